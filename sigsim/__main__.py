"""`python -m sigsim`, and the command `sigsim`: signals first, then all that takes time to load."""

from __future__ import annotations


def main() -> None:
    """Run the command line; a signal ends it without a traceback at any time."""
    import _signal  # type: ignore[import-not-found]  # `signal` itself takes time to load

    # Until there is something to clean up, Ctrl-C ends the program as the other signals do.
    if _signal.getsignal(_signal.SIGINT) is _signal.default_int_handler:
        _signal.signal(_signal.SIGINT, _signal.SIG_DFL)
    from sigsim import stopping

    stopping.install()
    try:
        from sigsim.cli.main import main as run

        run()
    except KeyboardInterrupt as error:
        stopping.leave(error)


if __name__ == "__main__":
    main()
