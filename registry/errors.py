"""Refusals that a user can cause: each says what, where and what to do next."""

from collections.abc import Mapping


class HoldfastError(Exception):
    """Base of every expected refusal; its text is shown to the user as it is."""


class StaleVersion(HoldfastError):
    """The row was changed by somebody else since it was read."""

    def __init__(self, what: str, *, expected: int, current: int) -> None:
        """Name the row and both versions."""
        self.expected = expected
        self.current = current
        super().__init__(
            f"{what} was changed by somebody else after you opened it "
            f"(you have version {expected}, it is now {current}). "
            "Compare both and save again."
        )


class IllegalTransition(HoldfastError):
    """A state cannot follow the present one."""

    def __init__(self, what: str, *, present: str, wanted: str) -> None:
        """Name both states."""
        self.present = present
        self.wanted = wanted
        super().__init__(f"{what} is '{present}' and cannot become '{wanted}'.")


class NotAllowed(HoldfastError):
    """The person holds no role that permits this."""


class BadInput(HoldfastError):
    """Values that cannot be taken, with a message for each field."""

    def __init__(self, faults: Mapping[str, str] | str) -> None:
        """Take a field -> message mapping, or one message about the whole."""
        self.faults: dict[str, str] = {"": faults} if isinstance(faults, str) else dict(faults)
        super().__init__("; ".join(f"{k}: {v}" if k else v for k, v in self.faults.items()))
