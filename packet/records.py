"""``dataclass`` for records that cost little to define: the same use, no text compiled.

The library's own writes and compiles six functions a class, about a millisecond each class and
more than all else that a command does which finds nothing to do. Here they are closures over the
fields; ``fields``, ``replace`` and ``asdict`` of the library work on both alike.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

__all__ = ["dataclass", "field"]

if TYPE_CHECKING:
    from dataclasses import dataclass
else:
    import dataclasses
    from operator import attrgetter

    def dataclass(*, frozen=False, slots, kw_only=False, eq=True):
        """As ``dataclasses.dataclass`` with ``slots=True``; no ``__post_init__``, no heirs."""
        if not slots:
            raise TypeError("records have slots")
        bare = dataclasses.dataclass(
            init=False, repr=False, eq=False, slots=True, kw_only=kw_only, match_args=False
        )

        def made(cls):
            cls.__doc__ = cls.__doc__ or cls.__name__  # else its signature is written out
            record = bare(cls)
            shown = dataclasses.fields(record)
            putters = [(one.name, record.__dict__[one.name].__set__) for one in shown]
            record.__init__ = _init(record.__qualname__, shown, putters, kw_only=kw_only)
            record.__repr__ = _repr([one.name for one in shown if one.repr])
            record.__getstate__, record.__setstate__ = _states(putters)
            if eq:
                values = _values([one.name for one in shown if one.compare])
                record.__eq__ = _eq(values)
                record.__hash__ = (lambda self: hash(values(self))) if frozen else None
            if frozen:
                record.__setattr__, record.__delattr__ = _no_setting, _no_deleting
            return record

        return made

    def _init(name, fields, putters, *, kw_only):
        missing = dataclasses.MISSING
        names = tuple(one.name for one in fields)
        defaults = {one.name: one.default for one in fields if one.default is not missing}
        factories = [
            (one.name, one.default_factory) for one in fields if one.default_factory is not missing
        ]

        def initialise(self, /, *given, **named):
            if given:
                named = _with_given(name, () if kw_only else names, given, named)
            values = {**defaults, **named}
            for one, make in factories:
                if one not in named:
                    values[one] = make()
            if len(values) != len(names):
                raise TypeError(_mismatch(name, names, values))
            try:
                for one, put in putters:
                    put(self, values[one])
            except KeyError:
                raise TypeError(_mismatch(name, names, values)) from None

        return initialise

    def _with_given(name, names, given, named):
        if len(given) > len(names):
            raise TypeError(f"{name}() takes {len(names)} positional arguments, not {len(given)}")
        for one in names[: len(given)]:
            if one in named:
                raise TypeError(f"{name}() got two values for argument {one!r}")
        return {**dict(zip(names, given, strict=False)), **named}

    def _mismatch(name, names, values):
        for one in values:
            if one not in names:
                return f"{name}() got an unexpected argument {one!r}"
        return f"{name}() misses {', '.join(one for one in names if one not in values)}"

    def _values(names):
        if len(names) == 1:
            only = attrgetter(names[0])
            return lambda self: (only(self),)
        return attrgetter(*names) if names else lambda self: ()

    def _eq(values):
        def equal(self, other):
            if other.__class__ is not self.__class__:
                return NotImplemented
            return values(self) == values(other)

        return equal

    def _repr(names):
        def told_of(self):
            words = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
            return f"{self.__class__.__qualname__}({words})"

        return told_of

    def _states(putters):
        def state(self):
            return [getattr(self, name) for name, _ in putters]

        def take_up(self, values):
            for (_, put), value in zip(putters, values, strict=True):
                put(self, value)

        return state, take_up

    def _no_setting(self, name, value):
        raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")

    def _no_deleting(self, name):
        raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
