"""A page that asks once more before something is deleted."""

from dataclasses import dataclass, field

from service.language import say


@dataclass(frozen=True)
class ConfirmPage:
    """What would be deleted, where the button leads, and the way back."""

    heading: str
    action: str
    text: str = field(default_factory=lambda: say("It cannot be brought back."))
    back: str = "/"
    forget: bool = False
