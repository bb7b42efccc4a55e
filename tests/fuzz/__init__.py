"""A fuzzer over the readers, run by name: python -m tests.fuzz N [SEED]. Only this package's errors may come out."""
