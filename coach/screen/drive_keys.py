"""The keys of a drive, each with its word and its sentence; at which stage they do something stands in `stages.py`."""

from coach.screen.keys import MORE, Keys, key

DRIVE_KEYS: Keys = [
    key("enter", "go", "go", "Go on: to the drive, or to the next step of its end."),
    MORE,
    key("n", "skip", "not-here", "Not on this road: the next useful phase instead."),
    key("z", "unskip", "undo", "Bring back the phases that were put aside."),
    key("s", "limit", "limit", "No phase above a speed limit; each press a lower one, then none."),
    key(
        "c",
        "clean",
        "cycles",
        "The way without a clear: a driving cycle without the fault; again for the monitors.",
    ),
    key("r", "read_out", "read-out", "All that the car said, as a page."),
    key("g", "fuel", "fuel", "The fuel level by the gauge, when the car does not tell it; only at a stop."),
    key("p", "parked", "parked", "How long it stood before, when nothing proves it; only at a stop."),
    key("a", "alone", "alone", "Driving alone: no text while the wheels turn, only the voice."),
    key("v", "voice", "voice", "Say the lines aloud, or be silent."),
    key("b", "bell", "bell", "A bell with what matters, or none."),
    key("f", "finish", "finish", "Write the drive now, with what is known."),
    key("e", "end", "end", "End the drive: key off, key on, one last look."),
    key("o", "open", "open", "Look at the drive again, as a recording."),
    key("m", "morning", "morning", "The next morning of the simulated car."),
]
