"""Write what each fixture says now beside it, then look at it: `PYTHONPATH=.:tests python -m golden.write [NAME]`."""

from __future__ import annotations

import io
import json
import sys
import tempfile
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from golden.case import cases, kept


def main(names: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for case in cases():
            if names and case.name not in names:
                continue
            with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
                lines = kept(case.replay(Path(folder) / "events.jsonl"))
            text = "".join(json.dumps(line, separators=(",", ":"), ensure_ascii=False) + "\n" for line in lines)
            case.said.write_text(text, encoding="utf-8")
            print(f"{case.name}: {len(lines)} lines", file=sys.stderr)


if __name__ == "__main__":
    main(sys.argv[1:])
