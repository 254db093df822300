"""Records do what the library's dataclasses do; the library is the measure."""

from __future__ import annotations

import copy
import dataclasses
import pickle

import pytest

from packet import records


def _pair(how):
    """The same class twice: by the library, and by ``records``."""

    def made(decorate, options):
        @decorate(**options)
        class Thing:
            """A thing."""

            name: str
            sides: tuple[int, ...] = (1, 2)
            secret: bytes = dataclasses.field(default=b"", repr=False)
            apart: float = dataclasses.field(default=0.0, compare=False)
            more: list[int] = dataclasses.field(default_factory=list)

            @property
            def loud(self) -> str:
                return self.name.upper()

        return Thing

    options = {"slots": True, **how}
    return made(dataclasses.dataclass, options), made(records.dataclass, options)


KEYS = {"frozen": True, "kw_only": True}
CASES = [KEYS, {**KEYS, "eq": False}, {"frozen": True}, {}]


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    a: int
    b: str = ""


@records.dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    a: int
    b: str = ""


@pytest.mark.parametrize("how", CASES)
def test_made_shown_and_compared_alike(how):
    theirs, ours = _pair(how)
    for values in ({"name": "x"}, {"name": "y", "sides": (3,), "secret": b"s", "more": [1]}):
        one, two = theirs(**values), ours(**values)
        assert repr(one) == repr(two)
        assert dataclasses.asdict(one) == dataclasses.asdict(two)
        assert (one == theirs(**values)) is (two == ours(**values))
        assert (one == theirs(name="z")) is (two == ours(name="z"))
        assert two not in ("x", one)
        assert two.loud == values["name"].upper()
    assert ours(name="x").more is not ours(name="x").more
    assert [one.name for one in dataclasses.fields(ours)] == [
        one.name for one in dataclasses.fields(theirs)
    ]
    changed = dataclasses.replace(ours(name="x", more=[1]), name="y")
    assert (changed.name, changed.more) == ("y", [1])


@pytest.mark.parametrize("how", CASES)
def test_what_is_not_compared_makes_no_difference(how):
    theirs, ours = _pair(how)
    same = [cls(name="x", apart=1.0) == cls(name="x", apart=2.0) for cls in (theirs, ours)]
    assert same[0] is same[1]


def test_hash_goes_with_equality():
    assert hash(Sent(a=1)) == hash(Sent(a=1)) == hash(Plain(a=1))
    assert len({Sent(a=1), Sent(a=1), Sent(a=2)}) == 2
    theirs, ours = _pair({})
    assert theirs.__hash__ is None
    assert ours.__hash__ is None
    _, ours = _pair({**KEYS, "eq": False})
    assert len({ours(name="x"), ours(name="x")}) == 2


@pytest.mark.parametrize("how", CASES)
@pytest.mark.parametrize(
    "values", [{}, {"name": "x", "colour": 1}, {"colour": 1}, {"sides": ()}], ids=str
)
def test_wrong_arguments_are_refused(how, values):
    for cls in _pair(how):
        with pytest.raises(TypeError):
            cls(**values)


def test_arguments_by_place():
    for cls in _pair({}):
        assert cls("x", (3,)).sides == (3,)
        for given, named in ((("x",), {"name": "y"}), ((1, 2, 3, 4, 5, 6), {})):
            with pytest.raises(TypeError):
                cls(*given, **named)
    for cls in _pair(KEYS):
        with pytest.raises(TypeError):
            cls("x")


def test_frozen_means_frozen_and_slots_mean_slots():
    for cls in _pair(KEYS):
        one = cls(name="x")
        with pytest.raises(dataclasses.FrozenInstanceError):
            one.name = "y"
        with pytest.raises(dataclasses.FrozenInstanceError):
            del one.name
        assert not hasattr(one, "__dict__")
    for cls in _pair({}):
        one = cls(name="x")
        one.name = "y"
        assert one.name == "y"
        with pytest.raises(AttributeError):
            one.other = 1
    with pytest.raises(TypeError, match="slots"):
        records.dataclass(slots=False)


@pytest.mark.parametrize("cls", [Plain, Sent])
def test_sent_and_copied(cls):
    one = cls(a=1, b="x")
    for back in (pickle.loads(pickle.dumps(one)), copy.copy(one), copy.deepcopy(one)):
        assert back == one
        assert type(back) is cls
