"""Pages from templates: the one way in which HTML leaves the workbench."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from .csrf_token import csrf_of
from .desk import desk_of
from .reader import Reading

FILTERS: dict[str, Callable[..., Any]] = {}


def render(
    request: Request,
    template: str,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
    **context: Any,
) -> HTMLResponse:
    """``template`` with ``context``, and what every page has.

    That is ``person`` (None where nobody is signed in), ``csrf``, ``reading`` (theme, units and
    dates as this reader likes them), ``asset(name)`` and ``path``.
    """
    from .rights import who

    desk = desk_of(request)
    person = who(request)
    secret, visit = csrf_of(request)
    text = (
        environment()
        .get_template(template)
        .render(
            request=request,
            path=request.url.path,
            person=person,
            csrf=secret,
            reading=Reading.of(person),
            asset=desk.assets.address,
            has=desk.assets.get,
            lan=desk.settings.lan,
            **context,
        )
    )
    response = HTMLResponse(text, status, dict(headers or {}))
    if visit is not None:
        from .sessions import set_cookie, visit_cookie

        set_cookie(desk, response, visit_cookie(desk), visit, None, strict=True)
    return response


@cache
def environment() -> Environment:
    """The templates: everything is escaped, a name that is not there is a fault."""
    made = Environment(
        loader=PackageLoader("endbell.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.filters.update(FILTERS)
    return made
