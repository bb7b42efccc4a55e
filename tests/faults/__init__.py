"""What happens when a process is killed, a disk is full, a folder may not be written, two processes meet.

A short run is among the tests; `python -m tests.faults 500` kills as often by hand and prints the counts.
"""
