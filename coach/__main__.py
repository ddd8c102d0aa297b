"""`python -m coach` is the command `cornerword`."""

from coach.app.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
