"""The longer pages of documentation, made from the code: python -m tests.docs writes them, tests hold them to it."""
