"""What the stand-alone build runs."""

from trainer.commands.main import run

if __name__ == "__main__":
    run()
