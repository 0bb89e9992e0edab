"""The scheduler alone, against a car made of arithmetic: time is a number, nothing waits."""

from coach.adapter.scheduler import Ask, Scheduler, answered_lengths
from coach.j1979.pids import LENGTHS
from coach.transport.assembly import EcuReply
from coach.transport.frames import OutcomeKind

EIGHT = ("010C", "010D", "0105", "0104", "0111", "010F", "0110", "012F")


class Bench:
    """A car with a fixed turn time in seconds that answers some items; counts what was heard."""

    def __init__(self, scheduler: Scheduler, turn_s: float, most: int = 6, lacks: frozenset[str] = frozenset()) -> None:
        self.scheduler, self.turn_s, self.most, self.lacks = scheduler, turn_s, most, lacks
        self.t = 0.0
        self.asked: list[Ask] = []
        self.heard: dict[str, list[float]] = {}
        self.worst_s: dict[str, float] = {}

    def run(self, until_s: float) -> None:
        while self.t < until_s:
            ask = self.scheduler.next(self.t)
            if ask is None:
                wait_s = self.scheduler.wait_s(self.t)
                self.t += until_s if wait_s is None else max(wait_s, 0.001)
                continue
            self.asked.append(ask)
            self.t += self.turn_s
            answered = [text for text in ask.items if text not in self.lacks][: self.most]
            self.scheduler.report(ask, self.t, "value" if answered else "no_answer", {i: length(i) for i in answered})
            for text in answered:
                self.worst_s[text] = max(self.worst_s.get(text, 0.0), self.t - self.heard.get(text, [0.0])[-1])
                self.heard.setdefault(text, []).append(self.t)

    def count(self, text: str) -> int:
        return sum(text in ask.items for ask in self.asked)


def length(text: str) -> int:
    return LENGTHS[int(text[2:], 16)] if text.startswith("01") else 3


def scheduler(periods: dict[str, float], can: bool = True) -> Scheduler:
    made = Scheduler(can)
    made.want(periods, 0.0)
    return made


def test_each_signal_comes_at_its_own_period_when_the_adapter_is_fast() -> None:
    bench = Bench(scheduler({"010D": 0.2, "010C": 0.5, "012F": 10.0}), 0.01)
    bench.run(60.0)
    assert 280 <= len(bench.heard["010D"]) <= 305
    assert 115 <= len(bench.heard["010C"]) <= 300  # it may ride along from half its period on
    assert 5 <= len(bench.heard["012F"]) <= 13


def test_on_can_a_slow_adapter_still_hears_eight_signals_in_time() -> None:
    bench = Bench(scheduler(dict.fromkeys(EIGHT, 0.2)), 0.08)
    bench.run(30.0)
    readings = sum(map(len, bench.heard.values()))
    assert readings > 0.95 * 8 * 30.0 / 0.2, "what was wanted, though one by one only 12.5 a second fit"
    assert max(bench.worst_s[text] for text in EIGHT) < 1.0


def test_before_can_every_request_holds_one_item_and_none_starves() -> None:
    bench = Bench(scheduler({**dict.fromkeys(EIGHT, 0.2), "0101": 10.0, "03": 60.0}, can=False), 0.3)
    bench.run(120.0)
    assert all(len(ask.items) == 1 for ask in bench.asked)
    assert len(bench.asked) >= 399, "no turn is wasted"
    assert max(bench.worst_s[text] for text in EIGHT) < 4.0
    assert len(bench.heard["0101"]) >= 8
    assert len(bench.heard["03"]) >= 2


def test_under_overload_the_fast_stay_faster() -> None:
    bench = Bench(scheduler({"010D": 0.2, "0105": 5.0, **dict.fromkeys(EIGHT[2:], 2.0)}, can=False), 0.3)
    bench.run(60.0)
    assert len(bench.heard["010D"]) > 2 * len(bench.heard["0104"])


def test_readiness_and_codes_are_asked_alone() -> None:
    bench = Bench(scheduler({"0101": 1.0, "0141": 1.0, "03": 1.0, "0902": 5.0, **dict.fromkeys(EIGHT, 0.2)}), 0.01)
    bench.run(10.0)
    for ask in bench.asked:
        if {"0101", "0141", "03", "0902"} & set(ask.items):
            assert ask.items == (ask.text,)


def test_groups_hold_at_most_six_and_only_what_answered_alone_before() -> None:
    bench = Bench(scheduler(dict.fromkeys(EIGHT, 0.1)), 0.05)
    bench.run(5.0)
    assert [len(ask.items) for ask in bench.asked[:8]] == [1] * 8
    assert max(len(ask.items) for ask in bench.asked) == 6
    for ask in bench.asked:
        assert ask.text == ("01" + "".join(item[2:] for item in ask.items))


def test_a_long_reply_is_not_asked_for() -> None:
    long = ("0178", "0179", "017C", "0167", "0168")
    bench = Bench(scheduler(dict.fromkeys(long, 0.1)), 0.05)
    bench.run(5.0)
    assert all(1 + sum(1 + length(item) for item in ask.items) <= 27 for ask in bench.asked)
    assert all(len(bench.heard[item]) > 10 for item in long)


def test_an_ecu_that_answers_only_the_first_of_several_is_asked_one_by_one() -> None:
    bench = Bench(scheduler(dict.fromkeys(EIGHT, 0.2)), 0.05, most=1)
    bench.run(20.0)
    assert sum(len(ask.items) > 1 for ask in bench.asked) <= 4
    assert all(len(bench.heard[text]) > 30 for text in EIGHT)


def test_an_ecu_that_takes_three_at_once_gets_three() -> None:
    bench = Bench(scheduler(dict.fromkeys(EIGHT, 0.1)), 0.05, most=3)
    bench.run(20.0)
    assert [len(ask.items) for ask in bench.asked[30:]].count(3) > 200


def test_a_full_buffer_halves_the_group() -> None:
    made = scheduler(dict.fromkeys(EIGHT, 0.1))
    bench = Bench(made, 0.05)
    bench.run(2.0)
    ask = made.next(bench.t)
    assert ask is not None
    assert len(ask.items) == 6
    made.report(ask, bench.t, "garbled", {}, why="BUFFER FULL")
    following = made.next(bench.t)
    assert following is not None
    assert len(following.items) == 3


def test_an_adapter_that_does_not_take_a_long_request_gets_short_ones() -> None:
    for why, most in (("?", 1), ("7E8 10 \x88", 4)):
        made = scheduler(dict.fromkeys(EIGHT, 0.1))
        bench = Bench(made, 0.05)
        bench.run(2.0)
        groups = 0
        for _ in range(30):
            ask = made.next(bench.t)
            assert ask is not None
            alone = len(ask.items) == 1
            groups += not alone
            outcome: OutcomeKind = "value" if alone else "garbled"
            made.report(ask, bench.t, outcome, {ask.text: length(ask.text)} if alone else {}, why=why)
            bench.t += 0.1
        assert groups <= 4 * most


def test_what_is_not_answered_is_asked_less_and_less_but_never_readiness_and_codes() -> None:
    periods = {"010D": 0.2, "015C": 1.0, "0101": 5.0, "03": 30.0, "0A": 30.0}
    bench = Bench(scheduler(periods), 0.02, lacks=frozenset({"015C", "0101", "03", "0A"}))
    bench.run(600.0)
    assert bench.count("015C") < 15
    assert bench.count("0A") < 15
    assert bench.count("0101") > 100
    assert bench.count("03") > 19
    assert len(bench.heard["010D"]) > 2500


def test_a_refusal_for_good_backs_off_at_once_and_a_passing_one_does_not() -> None:
    for codes, most in (((0x12,), 9), ((0x22,), 12)):
        made = scheduler({"0A": 1.0})
        t, count = 0.0, 0
        while t < 300.0:
            ask = made.next(t)
            if ask is not None:
                count += 1
                made.report(ask, t, "refused", {}, codes)
            t += 0.1
        assert count <= most


def test_noise_does_not_drive_an_item_away() -> None:
    made = scheduler({"0101": 5.0, "012F": 60.0})
    count, t = 0, 0.0
    while t < 60.0:
        ask = made.next(t)
        if ask is not None:
            count += ask.text == "012F"
            made.report(ask, t, "garbled", {})
        t += 0.1
    assert count > 20


def test_when_the_link_is_back_everything_is_asked_again() -> None:
    made = scheduler({"015C": 1.0})
    for t in range(0, 400, 1):
        ask = made.next(float(t))
        if ask is not None:
            made.report(ask, float(t), "no_answer", {})
    made.restart(400.0, True)
    assert made.next(400.0) is not None


def test_what_is_asked_once_goes_first_and_is_asked_once() -> None:
    made = scheduler({"010D": 0.2})
    made.once(["0101", "03"])
    bench = Bench(made, 0.05)
    bench.run(1.0)
    assert [ask.text for ask in bench.asked[:2]] == ["0101", "03"]
    assert bench.count("0101") == 1


def test_new_wishes_keep_what_is_known() -> None:
    made = scheduler(dict.fromkeys(EIGHT, 0.2))
    bench = Bench(made, 0.02)
    bench.run(1.0)
    made.want({"010D": 0.1, "010C": 0.1}, bench.t)
    bench.asked.clear()
    bench.run(2.0)
    assert {ask.items for ask in bench.asked} <= {("010D", "010C"), ("010C", "010D")}


def test_lengths_are_taken_from_the_replies_of_all_ecus() -> None:
    ask = Ask("010C0D", ("010C", "010D"), 0.0)
    good = (EcuReply("7E8", bytes.fromhex("410C1AF8")), EcuReply("7E9", bytes.fromhex("410D32")))
    assert answered_lengths(ask, good) == {"010C": 2, "010D": 1}
    assert answered_lengths(Ask("03", ("03",), 0.0), (EcuReply("7E8", b"\x43\x00"),)) == {"03": 1}
