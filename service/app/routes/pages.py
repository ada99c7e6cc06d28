"""Writes the pages out of the templates."""

from collections.abc import Mapping
from typing import Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from service.app.requests.secure import address_is_secure
from service.app.views.answer import ProblemPage, once_page
from service.app.views.start import start_page
from service.asked import PAGE_FIELDS, TEXT_FIELDS, read_units
from service.board.phrase import side_title, slope_text
from service.errors import StavesightError
from service.language import direction, language, plain, plain_many, script_words
from service.reading import Outcome
from service.settings import Settings

_TEXT_NAMES: Final = frozenset(field.name for field in (*TEXT_FIELDS, *PAGE_FIELDS))
_LONGEST_TEXT: Final = 400  # characters of a text that is shown again


def shown_again(typed: Mapping[str, str]) -> dict[str, str]:
    """Return what was typed into known fields, cut short where it is longer than anything that makes sense."""
    return {name: text[:_LONGEST_TEXT] for name, text in typed.items() if name in _TEXT_NAMES}


class Pages:
    """Writes the pages out of the templates."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._templates = Environment(
            loader=FileSystemLoader(settings.web_folder / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            extensions=["jinja2.ext.i18n"],
        )
        self._templates.policies["ext.i18n.trimmed"] = True
        # The extension adds this method to its environment.
        self._templates.install_gettext_callables(plain, plain_many, newstyle=True)  # type: ignore[attr-defined]
        self._templates.globals.update(
            language=language, direction=direction, script_words=script_words, address_is_secure=address_is_secure
        )
        self._templates.filters.update(slope=slope_text, side=side_title, sentence=_sentence)

    def start(self, typed: Mapping[str, str], refused: StavesightError | None = None) -> str:
        """Write the form that takes all photos at once."""
        return self.write("start.html", start_page(self._settings, shown_again(typed), refused))

    def answer(self, outcome: Outcome, typed: Mapping[str, str]) -> str:
        """Write an answer of which nothing is kept."""
        units = read_units(typed.get("units", "")) or "in"
        return self.write("answer.html", once_page(outcome, typed, units))

    def problem(self, page: ProblemPage) -> str:
        """Write a page that says what is wrong."""
        return self.write("problem.html", page)

    def write(self, template: str, page: object) -> str:
        """Write a page."""
        return self._templates.get_template(template).render(page=page)


def _sentence(text: str) -> str:
    """End a text with a full stop."""
    return f"{text.removesuffix('.')}."
