"""Draws every text that is said into one catalogue: `python -m tests.catalogue`."""

import io
import json
from pathlib import Path
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

from service.language import FOLDER, NAME, SCRIPT_TEXTS

ROOT: Final = Path(__file__).resolve().parent.parent
TEMPLATE: Final = FOLDER / f"{NAME}.pot"

METHODS: Final = [("**.py", "python"), ("**.html", "jinja2.ext:babel_extract"), ("**.js", "javascript")]
OPTIONS: Final = {"**.html": {"trimmed": "true", "newstyle_gettext": "true"}}
KEYWORDS: Final = {
    "say": None,
    "mark": None,
    "say_many": (1, 2),
    "_": None,
    "gettext": None,
    "ngettext": (1, 2),
}


def draw() -> tuple[str, str]:
    """Find every text that is said.

    Returns
    -------
    str
        The catalogue to be translated, in gettext's form.
    str
        The texts that scripts say, as a JSON list.
    """
    catalogue = Catalog(project="Stavesight", charset="utf-8", header_comment="# The words of Stavesight.")
    spoken = set()
    for part in ("service", "web"):
        found = extract_from_dir(ROOT / part, METHODS, OPTIONS, KEYWORDS)
        for file, line, message, comments, context in found:
            catalogue.add(message, None, [(f"{part}/{file}", line)], auto_comments=comments, context=context)
            if file.endswith(".js"):
                spoken.add(message)
    written = io.BytesIO()
    write_po(written, catalogue, width=120, sort_by_file=True, include_lineno=False, omit_header=True)
    return written.getvalue().decode(), json.dumps(sorted(spoken), ensure_ascii=False, indent=0) + "\n"


if __name__ == "__main__":
    texts, scripts = draw()
    TEMPLATE.parent.mkdir(exist_ok=True)
    TEMPLATE.write_text(texts, encoding="utf-8")
    SCRIPT_TEXTS.write_text(scripts, encoding="utf-8")
