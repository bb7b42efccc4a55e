"""Benchmarks, run by name: python -m tests.benchmarks. Each number is a ratio to a baseline of the same run."""
