"""Who is inspected at all, in words: the cars a place lets go or tests in another way, and what that hangs on."""

from coach.inspection.who import Exempt

FUEL_WORDS = {"gasoline": "petrol", "diesel": "diesel"}
KIND_WORDS = {
    "plain": "",
    "hybrid": "hybrid",
    "plug_in": "plug-in hybrid",
    "gas": "natural gas or LPG",
    "flexible": "flexible or dual fuel",
    "electric": "electric",
}
GETS = {"nothing": "is not inspected", "another_test": "gets another test", "not_stated": "is outside it"}


def who_words(fact: Exempt) -> str:
    """The cars a fact is about, one of them as the subject of a sentence."""
    fuel = FUEL_WORDS.get(fact.fuel or "", "")
    kinds = [] if "plain" in fact.kinds else [KIND_WORDS[kind] for kind in fact.kinds]
    names = " or ".join(kinds)
    car = "vehicle" if fact.over_lb is not None or fact.under_lb is not None else "car"
    noun = " ".join(word for word in (fuel, names, car) if word)
    words = [f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}", *_limits(fact)]
    if fact.except_kinds:
        words.append(f"(no {' or '.join(KIND_WORDS[kind] for kind in fact.except_kinds)})")
    return " ".join(words)


def _limits(fact: Exempt) -> list[str]:
    weights = " ".join(
        (
            *([f"above {fact.over_lb:,.0f} lb"] if fact.over_lb is not None else []),
            *([f"up to {fact.to_lb:,.0f} lb"] if fact.to_lb is not None else []),
            *([f"below {fact.under_lb:,.0f} lb"] if fact.under_lb is not None else []),
        )
    )
    return [
        *([f"{weights} gross"] if weights else []),
        *([_age(fact)] if fact.under_age is not None or fact.from_age is not None else []),
        *([f"of a model year before {fact.before_model_year}"] if fact.before_model_year is not None else []),
        *([f"first used before {fact.before_use}"] if fact.before_use is not None else []),
        *([f"with less than {fact.below_mi:,.0f} miles"] if fact.below_mi is not None else []),
    ]


def _age(fact: Exempt) -> str:
    """Ages are the calendar year less the model year."""
    if fact.from_age is None:
        return "of the current model year or newer" if fact.under_age == 1 else f"less than {fact.under_age} years old"
    if fact.under_age is None:
        return f"{fact.from_age} years old or older"
    last = fact.under_age - 1
    return f"{fact.from_age} years old" if last == fact.from_age else f"{fact.from_age} to {last} years old"


def fact_words(fact: Exempt) -> str:
    """A fact as a whole: the car, on what it hangs, what it gets, and the source's remark."""
    if fact.unclear:
        return f"{who_words(fact)}: {fact.unclear}{_remark(fact)}"
    condition = f", if {fact.hangs_on}" if fact.hangs_on else ""
    return f"{who_words(fact)} {GETS[fact.instead]}{condition}{_remark(fact)}"


def _remark(fact: Exempt) -> str:
    return f"; {fact.words}" if fact.words else ""


def ways(fact: Exempt) -> str:
    """How the user may say what the car does not tell of a fact."""
    found = [
        *(["--odometer-mi"] if fact.below_mi is not None else []),
        *(["--kind"] if fact.kinds else []),
        *(["--inspected yes or no"] if fact.hangs_on or fact.before_use else []),
    ]
    return " and ".join(found)
