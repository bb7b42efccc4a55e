"""Mutation testing of the core, by a sample: python -m tests.mutations [COUNT [SEED]]."""
