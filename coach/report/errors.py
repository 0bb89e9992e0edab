"""What can keep a report from being written; each message is one line that says what is wrong and what to do.

ReportError
├── UnknownForm     the name tells no form, or the form cannot be written here
├── NotInstalled    the library a form needs is missing
└── CannotFile      the place is taken by something else, missing, read-only or full; nothing was changed there
"""


class ReportError(ValueError):
    """Root."""


class UnknownForm(ReportError):
    """No form of that name."""


class NotInstalled(ReportError):
    """A library is missing."""


class CannotFile(ReportError):
    """The report cannot be kept where it was wanted."""
