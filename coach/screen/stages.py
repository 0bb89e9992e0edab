"""The stages of a drive on the screen: what is to be read at each, and which keys do something there.

What may move them:
  waiting -> before     the read-out is complete
  before  -> driving    enter
  before, driving -> key_off    end; escape goes back to where it was ended from
  key_off -> key_on     enter: the key is off
  key_on  -> again      enter: the key is on, the findings are read once more
  any     -> ended      the pump is done
"""

LIMITS = {True: (75, 65, 55, 45, 35), False: (120, 100, 80, 60, 50)}
"""Speed limits one key steps through, in mph and in km/h: common posted limits."""
KEY_OFF = (
    "Stop where it is safe, select Park or neutral, and turn the key off.\n\n"
    "Some cars show what they found only after the key was off. So wait some ten seconds with the key off, "
    "then press enter.\n\n"
    "Escape goes back to the drive; it is still being recorded."
)
KEY_ON = (
    "Turn the key on again. The engine need not run.\n\n"
    "Then press enter: the findings are read once more and the drive is written.\n\n"
    "If the car cannot be switched on here, press f: the drive ends with what is known."
)
AGAIN = (
    "Reading once more: readiness, codes.\n\nIf the car does not answer, press f: the drive ends with what is known."
)
ALONE = (
    "Alone: while the wheels turn no text is shown and the lines are spoken. What was driven is looked at afterwards.",
    "The text and the keys come back when the car stands; ? lists the keys at any time, a brings the text back.",
    "",
)
"""Read before the wheels turn; the first sentence of the second line is spoken too."""
ALONE_SPOKEN = "The text and the keys come back when the car stands."
NOT_TOLD = {
    "fuel": "The car does not tell how full its tank is: g tells it by the gauge.",
    "parked": "Nothing proves how long the car has stood: p tells it.",
}
"""Read before the wheels turn, by what may be told (`coach.screen.telling`)."""
READY = "Press enter when you are ready to go."
NO_VOICE = "No speech program was found, so nothing can be said aloud: take somebody along who reads."

STAGES: dict[str, tuple[str, ...]] = {
    "go": ("before", "key_off", "key_on", "ended"),
    "more": ("before", "ended"),
    "skip": ("driving",),
    "unskip": ("driving",),
    "limit": ("before", "driving"),
    "clean": ("before", "driving"),
    "read_out": ("before", "driving"),
    "fuel": ("before", "driving"),
    "parked": ("before", "driving"),
    "alone": ("before", "driving"),
    "voice": ("before", "driving"),
    "bell": ("before", "driving"),
    "finish": ("key_off", "key_on", "again"),
    "end": ("before", "driving"),
    "open": ("ended",),
    "morning": ("ended",),
}
"""At which stages a key does something; keys not named here always do."""


def alone_text(voice_there: bool, trouble: str) -> str:
    """What being alone means with the voice there is."""
    if not voice_there:
        heard = "No speech program was found, nothing can be heard."
    else:
        heard = trouble or "The lines are spoken."
    return f"Alone: no text while the wheels turn. {heard}"


def ended_text(lines: tuple[str, ...], path: str, problem: str, unrecorded: str = "") -> str:
    """What the drive brought, where and how far it is written, and the next step."""
    text = [f"The drive ended: {problem}", ""] if problem else []
    text += [line for line in lines if line] or ["Nothing was driven."]
    if path:
        text += ["", f"The recording has no end: {unrecorded}"] if unrecorded else [""]
        text.append(f"{'Written as far as it went' if unrecorded or problem else 'Everything is written'}: {path}")
        text += ["", "Press o to look at it again, enter for the start, q to quit."]
    else:
        text += ["", "Check that the adapter is pushed fully in and the key is on."]
        text += ["Press enter for the start, q to quit."]
    return "\n".join(text)


def waiting_text(link: str, why: str) -> str:
    """Until the read-out is complete: what is waited for, and what to do."""
    first = WAITING.get(link, "Connecting to the adapter. It must sit in the car's connector, with the key on.")
    return f"{first}\n\n{why}\n\nEscape goes back."


WAITING = {
    "up": "The car answers. It is being read out; this takes half a minute or so.",
    "no_car": "The adapter answers, the car does not. Turn the key on; the engine need not run yet.",
    "ignition_off": "The adapter answers, the car does not. Turn the key on; the engine need not run yet.",
    "refused": "The car answers, but does not tell what it is asked. It is asked again.",
    "unreadable": "Something answers, but it cannot be read. It is asked again.",
    "bus_error": "The adapter answers, but cannot get its question through to the car. It tries again.",
    "adapter_error": "The adapter breaks off its own question. It tries again.",
}
