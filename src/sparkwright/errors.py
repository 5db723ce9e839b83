"""What Sparkwright refuses, said for the person who has to put it right."""

from collections.abc import Sequence
from typing import Any


class SparkwrightError(Exception):
    """Anything that Sparkwright refuses to go on with; catch this one to catch them all."""

    @property
    def on_this_machine(self) -> str:
        """The sentences for whoever runs the program, who may also read where on the machine it was."""
        return str(self)


def printable(text: str) -> str:
    r"""Show characters that don't print as escapes, so that nothing typed can act on a terminal.

    Examples
    --------
    >>> printable("Bench" + chr(7))
    'Bench\\x07'
    """
    return "".join(each if each.isprintable() else ascii(each)[1:-1] for each in text)


class _FieldError(SparkwrightError, ValueError):
    """A named value that can't stand: `field = value: must; do`."""

    def __init__(self, field: str, value: object, must: str, do: str = "") -> None:
        self.field = field
        self.value = value
        self.must = must
        self.do = do
        what = f"{field} (not given)" if value is None else f"{field} = {value}"
        super().__init__(printable(f"{what}: {must}; {do}" if do else f"{what}: {must}"))

    def __reduce__(self) -> tuple[type["_FieldError"], tuple[Any, ...]]:
        """Let the exception cross to another process whole."""
        return type(self), (self.field, self.value, self.must, self.do)


class InputError(_FieldError):
    """Something that a person gave and that can't be used.

    Parameters
    ----------
    field : str
        Where it stands, as the person wrote it: `engine.bore`.
    value : object
        What was given; None when nothing was.
    must : str
        What is allowed, starting with "must" where it can.
    do : str
        What to do about it, or why the limit is there.

    Examples
    --------
    >>> print(InputError("coil.primary_ohm", 0, "must be above 0", "a shorted primary has no charging curve"))
    coil.primary_ohm = 0: must be above 0; a shorted primary has no charging curve
    """


class PhysicsError(_FieldError):
    """A number that a calculation can't take; built and said like an `InputError`."""


class JobError(SparkwrightError, ValueError):
    """Everything that keeps one job file from being used, one sentence each.

    Parameters
    ----------
    problems : sequence of str
        The sentences, in the order of the file's sections.

    Examples
    --------
    >>> print(JobError(["engine.bore (not given): must be given", "cam.at_lift = 4: must have a unit"]))
    engine.bore (not given): must be given
    cam.at_lift = 4: must have a unit
    """

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(printable(problem) for problem in problems)
        super().__init__("\n".join(self.problems))

    def __reduce__(self) -> tuple[type["JobError"], tuple[Any, ...]]:
        """Let the exception cross to another process whole."""
        return type(self), (self.problems,)
