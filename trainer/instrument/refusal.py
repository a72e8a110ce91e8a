"""The one family of refusals: input that the program will not work with, said in a sentence."""


class Refusal(ValueError):
    """Something was refused; the text is one sentence for the person, with the remedy in it.

    Every room derives its own from this; the command line prints the sentence and exits with 1,
    the window shows it beside what was refused.
    """
