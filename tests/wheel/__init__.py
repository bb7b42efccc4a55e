"""The wheel away from the source tree: python -m tests.wheel [PYTHON ...]."""
