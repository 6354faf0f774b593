"""The command that writes to the maker: letter."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import (
    CasePath,
    ColumnFiles,
    ConditionsOfThose,
    Force,
    RecordsInstead,
    SheetNames,
    app,
    case_at,
    records_of,
    refuse_empty,
)


@app.command()
def letter(
    out: Annotated[str, typer.Option("--out", metavar="FILE", help="Letter to write (.html or .docx).")],
    case: CasePath = None,
    record: RecordsInstead = None,
    condition: ConditionsOfThose = None,
    sheet: SheetNames = None,
    columns: ColumnFiles = None,
    force: Force = False,
) -> None:
    """Write a letter to the maker: claims, evidence, findings and open questions."""
    from rimmodel.verdict import review as run_review
    from rimmodel.verdict.output import letter as output

    refuse_empty("--out", out)
    output.check_ending(Path(out))
    result = run_review(case_at(case), records_of(record or [], condition or [], sheet, columns))
    for path in output.write(result, Path(out), overwrite=force):
        echo(f"wrote {path}", err=True)
