"""The JSON API."""

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from service.app.presence import read_while_present
from service.app.readers import Readers
from service.app.receiving import receive
from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS
from service.judge.record import Answer
from service.settings import Settings


class Refusal(BaseModel):
    """Why a request was refused."""

    code: str = Field(description="Short fixed name of the refusal, for programs.")
    text: str = Field(description="What is wrong and what to do, as a sentence.")
    field: str | None = Field(description="The field it concerns, when it concerns one.")


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


_REFUSALS: Final[dict[int | str, dict[str, Any]]] = {
    413: {"model": Refusal, "description": "More bytes, pixels or photos than are accepted."},
    422: {"model": Refusal, "description": "A size, unit, side or photo that cannot be used."},
    500: {"model": Refusal, "description": "The reader stopped or took too long."},
    503: {"model": Refusal, "description": "All readers are taken; Retry-After says when to try again."},
}


def api_routes(settings: Settings, readers: Readers) -> APIRouter:
    """Make the API's routes."""
    router = APIRouter()

    @router.post("/api/readings", responses=_REFUSALS, openapi_extra=_form_schema())
    async def read(request: Request) -> Answer:
        """Read a board from photos of its sides and say whether a bow can come out of it. Nothing is kept."""
        received = await receive(request, settings)
        return (await read_while_present(request, readers, received)).answer

    @router.get("/health")
    async def health() -> Health:
        """Tell that the service is up."""
        return Health(status="ok")

    return router
