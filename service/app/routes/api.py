"""The JSON API."""

import asyncio
from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.app.requests.receiving import read_bytes, receive
from service.app.workers.presence import read_while_present
from service.app.workers.readers import Readers
from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS
from service.errors import BadInput, TooLarge
from service.judge.ranking import Ranking, make_ranking
from service.judge.record import Answer
from service.language import say
from service.settings import Settings

MOST_BOARDS: Final = 100
"""Boards in one ranking: more than lie in any rack."""

RANKING_BYTES: Final = 16 * 1024**2
"""Bytes of one ranking's request: `MOST_BOARDS` answers of 8 ft boards fill half of it."""


class Refusal(BaseModel):
    """Why a request was refused."""

    code: str = Field(description="Short fixed name of the refusal, for programs.")
    text: str = Field(description="What is wrong and what to do, as a sentence.")
    field: str | None = Field(description="The field it concerns, when it concerns one.")


class BoardToRank(BaseModel):
    """A board to put in order with others."""

    name: str = Field(description="What to call it.")
    answer: Answer = Field(description="Its answer, as a reading returned it.")

    model_config = ConfigDict(frozen=True, extra="forbid")


class RankingAsked(BaseModel):
    """Boards to put in order."""

    boards: list[BoardToRank] = Field(description="The boards, read for the same bow and held to the same limits.")

    model_config = ConfigDict(frozen=True, extra="forbid")


class Health(BaseModel):
    """Whether the service is up."""

    status: str = Field(description="ok while requests are answered.")


def _file_schema(name: str, text: str) -> dict[str, object]:
    one: dict[str, object] = {"type": "string", "format": "binary"}
    return {**one, "description": text} if name == "end" else {"type": "array", "items": one, "description": text}


def _form_schema() -> dict[str, Any]:
    """Describe the form, which is parsed under limits of its own and so is unknown to FastAPI."""
    texts: Mapping[str, object] = {
        text.name: {"type": "string", "description": text.help, "examples": [text.example]}
        for text in (*TEXT_FIELDS, *PAGE_FIELDS)
    }
    files = {file.name: _file_schema(file.name, file.help) for file in FILE_FIELDS}
    schema = {"type": "object", "required": ["bow_length", "length"], "properties": {**texts, **files}}
    return {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": schema}}}}


def _ranking_schema() -> dict[str, Any]:
    """Describe the boards to rank, whose bytes are counted before FastAPI could parse them."""
    board = {
        "type": "object",
        "required": ["name", "answer"],
        "properties": {
            "name": {"type": "string", "description": BoardToRank.model_fields["name"].description},
            "answer": {"$ref": "#/components/schemas/Answer"},
        },
    }
    boards = {
        "type": "array",
        "minItems": 1,
        "maxItems": MOST_BOARDS,
        "items": board,
        "description": RankingAsked.model_fields["boards"].description,
    }
    schema = {"type": "object", "required": ["boards"], "properties": {"boards": boards}}
    return {"requestBody": {"required": True, "content": {"application/json": {"schema": schema}}}}


async def _body(request: Request, most_bytes: int) -> bytes:
    body = await read_bytes(request, most_bytes)
    if body is None:
        most = f"{most_bytes / 1024**2:.3g}"
        raise TooLarge(
            say("The answers hold more than {megabytes} MB together. Send fewer boards.", megabytes=most), "boards"
        )
    return body


def _rank(body: bytes) -> Ranking:
    try:
        asked = RankingAsked.model_validate_json(body)
    except ValidationError as error:
        first = error.errors(include_input=False, include_url=False, include_context=False)[0]
        text = say(
            "The boards cannot be read, at {place}: {why}. Send JSON with boards, each with a name and the answer as a "
            "reading returned it.",
            place=".".join(str(part) for part in first["loc"])[:80] or say("the body"),
            why=first["msg"][:120],
        )
        raise BadInput(text, "boards") from error
    if len(asked.boards) > MOST_BOARDS:
        raise TooLarge(say("More than {count} boards were given. Send fewer.", count=MOST_BOARDS), "boards")
    return make_ranking([(board.name, board.answer) for board in asked.boards])


_REFUSALS: Final[dict[int | str, dict[str, Any]]] = {
    413: {"model": Refusal, "description": "More bytes, pixels or photos than are accepted."},
    422: {"model": Refusal, "description": "A size, unit, side or photo that cannot be used."},
    500: {"model": Refusal, "description": "The reader stopped or took too long."},
    503: {"model": Refusal, "description": "All readers are taken; Retry-After says when to try again."},
}


def api_routes(settings: Settings, readers: Readers) -> APIRouter:
    """Make the API's routes."""
    router = APIRouter()
    one_at_a_time = asyncio.Semaphore(1)  # a ranking's numbers take several times its bytes in memory

    @router.post("/api/readings", responses=_REFUSALS, openapi_extra=_form_schema())
    async def read(request: Request) -> Answer:
        """Read a board from photos of its sides and say whether a bow can come out of it. Nothing is kept."""
        received = await receive(request, settings)
        return (await read_while_present(request, readers, received)).answer

    @router.post(
        "/api/ranking",
        responses={status: _REFUSALS[status] for status in (413, 422)},
        openapi_extra=_ranking_schema(),
    )
    async def rank(request: Request) -> Ranking:
        """Put boards that were read for the same bow in order, the best first, and say why. Nothing is kept."""
        body = await _body(request, min(RANKING_BYTES, settings.request_bytes))
        async with one_at_a_time:
            return await run_in_threadpool(_rank, body)

    @router.get("/health")
    async def health() -> Health:
        """Tell that the service is up."""
        return Health(status="ok")

    return router
