"""What a report is refused with, and the door to files that appear whole or not at all."""

from trainer.instrument.refusal import Refusal
from trainer.instrument.whole_file import write_whole as write_whole


class UnusableReport(Refusal):
    """A report cannot be made as asked."""
