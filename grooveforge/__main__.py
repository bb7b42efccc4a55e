"""`python -m grooveforge` is the command `grooveforge`."""

from grooveforge.cli.main import run

if __name__ == "__main__":
    run()
