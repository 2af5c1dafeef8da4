"""A thousand workpieces at once, for counting queries: rows only, no money behind them."""

from types import SimpleNamespace

from studio.ledger.accounts import Account, Kind
from studio.work.making import sort_key
from studio.work.models import Stage, Step, Workpiece


def a_thousand(there: SimpleNamespace, *, stage: str = Stage.BLANK, count: int = 1000, code: str = "clean") -> None:
    first = 10_000
    accounts = Account.objects.bulk_create([Account(kind=Kind.WORKPIECE) for _ in range(count)])
    pieces = Workpiece.objects.bulk_create(
        [
            Workpiece(
                number=str(first + n), sort_key=sort_key(str(first + n)), account=account, stage=stage,
                species=there.ash, purchase=there.blanks[0].purchase, made_at=there.began,
                search_text=f"{first + n} ash",
            )
            for n, account in enumerate(accounts)
        ]
    )  # fmt: skip
    Step.objects.bulk_create([Step(workpiece=piece, code=code, position=1) for piece in pieces])
