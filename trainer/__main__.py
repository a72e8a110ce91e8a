"""Run the command line: `python -m trainer` is the same as `tenthwise`."""

from trainer.commands.main import run

if __name__ == "__main__":
    run()
