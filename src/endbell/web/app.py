"""The application: the desk, the middleware, a router a screen."""

from __future__ import annotations

import importlib
from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager

from fastapi import APIRouter, FastAPI, Request
from fastapi.responses import RedirectResponse, Response
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware

from .. import __version__
from ..store import Database, open_database
from .assets import shipped
from .csrf import Csrf
from .desk import Desk, desk_of
from .errors import add_handlers
from .kept import SaysKeysBack
from .limits import Limits
from .passwords import Passwords
from .rights import Anybody
from .security import KnownHosts, SafeHeaders
from .settings import Settings
from .shop_packs import ShopPacks

SCREENS = (
    "static_files",
    "login",
    "accounts",
    "passwords",
    "settings",
    "tokens",
    "pairing",
    "bookin",
    "shelf",
    "views",
    "dossier",
    "entry",
    "marks",
    "photos",
    "live",
    "next",
    "why",
    "history",
    "bench",
    "shares",
    "packs",
    "export",
    "importing",
    "offline",
    "api",
)
"""Each a module of ``routes`` with its ``router``."""

SMALL = 600
"""Bytes below which packing is not worth it."""

home = APIRouter()


@home.get("/", include_in_schema=False)
def start(request: Request, person: Anybody) -> Response:
    """To the shelf, to the sign-in, or to the first start."""
    if person is not None:
        return RedirectResponse("/dossiers", 303)
    return RedirectResponse("/login" if desk_of(request).has_accounts() else "/setup", 303)


@home.get("/healthy", include_in_schema=False)
def healthy() -> dict[str, str]:
    """That the server answers."""
    return {"endbell": __version__}


def create_app(settings: Settings, db: Database | None = None) -> FastAPI:
    """The workbench over the database that ``settings`` name, or over ``db``."""
    desk = make_desk(settings, db)

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncGenerator[None]:
        await desk.start()
        try:
            yield
        finally:
            await desk.close()

    app = FastAPI(
        title="Endbell",
        version=__version__,
        lifespan=life,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        middleware=[
            Middleware(SafeHeaders),
            Middleware(KnownHosts),
            Middleware(GZipMiddleware, minimum_size=SMALL, compresslevel=5),
            Middleware(Limits),
            Middleware(Csrf),
            Middleware(SaysKeysBack),
        ],
    )
    app.state.desk = desk
    add_handlers(app)
    app.include_router(home)
    for router in routers():
        app.include_router(router)
    return app


def make_desk(settings: Settings, db: Database | None = None) -> Desk:
    """The shared parts."""
    from .hub import Hub

    db = db or open_database(settings.data, settings.database)
    packs = ShopPacks(db)
    return Desk(
        settings=settings,
        db=db,
        packs=packs,
        hub=Hub(),
        assets=shipped(),
        passwords=Passwords(settings.hash_cost),
    )


def routers() -> list[APIRouter]:
    """The routers of all screens."""
    package = f"{__package__}.routes"
    return [importlib.import_module(f"{package}.{name}").router for name in SCREENS]
