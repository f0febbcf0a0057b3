"""Proof and memory: dossiers drawn from the model, how well they are known, what records teach.

Pure: seeds and dossiers in, numbers out.
"""

__all__: list[str] = []
