"""A page that asks once more before something is deleted."""

from dataclasses import dataclass


@dataclass(frozen=True)
class ConfirmPage:
    """What would be deleted, where the button leads, and the way back."""

    heading: str
    action: str
    text: str = "It cannot be brought back."
    back: str = "/"
    forget: bool = False
