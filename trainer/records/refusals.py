"""What the archive refuses, each kind with its own name and a sentence that carries the remedy."""

from trainer.instrument.refusal import Refusal


class UnusableArchive(Refusal):
    """The archive cannot be used as asked."""


class NotAnArchive(UnusableArchive):
    """The file or database exists, but is not a Tenthwise archive."""


class MissingArchive(UnusableArchive):
    """There is nothing at the place named."""


class NewerArchive(UnusableArchive):
    """The archive was written by a newer version of the program."""


class OlderArchive(UnusableArchive):
    """The archive needs an upgrade that cannot be made here."""


class DamagedArchive(UnusableArchive):
    """The archive's file is damaged; nothing was written to it."""


class ReadOnlyArchive(UnusableArchive):
    """The archive can be read but not written to."""


class BusyArchive(UnusableArchive):
    """Another program holds the archive."""


class FullDisk(UnusableArchive):
    """There is no room left for the archive."""


class ArchiveAway(UnusableArchive):
    """The server or drive that holds the archive does not answer."""


class UnusableName(Refusal):
    """A person's name cannot be kept as given."""


class UnknownPerson(Refusal):
    """No person of that name is in the archive."""


class UnknownSession(Refusal):
    """No session of that number is in the archive."""


class UnusableRecord(Refusal):
    """A session, item, answer or note cannot be kept as given."""
