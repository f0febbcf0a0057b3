"""The workbench in a browser: server-rendered pages over the store and the engine.

``create_app`` makes the application; every screen is a router in ``routes/``.
"""
