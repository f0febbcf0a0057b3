"""The commands: a thin shell round the core. One file a command; heavy imports wait inside them."""


def main() -> None:
    """Run ``endbell`` with the arguments of this process, and leave with its exit status."""
    from .app import run

    run()
