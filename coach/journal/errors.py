"""What can be wrong with a journal as a whole; single bad lines are counted, not raised.

JournalError
├── NotAJournal      empty, binary, another kind of file, or a version newer than this program
├── JournalRefused   a decompression bomb, notes without an end, control units without number
└── CannotWrite      the file exists, the folder cannot be written, the disk is full
"""


class JournalError(ValueError):
    """Root; each message is one line that names the file, what is wrong and what to do."""


class NotAJournal(JournalError):
    """The file is no journal this program can read."""


class JournalRefused(JournalError):
    """Reading on would fill the memory or the day."""


class CannotWrite(JournalError):
    """The journal cannot be written where it was wanted."""
