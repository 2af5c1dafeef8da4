from studio.ledger.accounts import Account, Commodity
from studio.ledger.journal import BooksClosed, Entry, Line

__all__ = ["Account", "BooksClosed", "Commodity", "Entry", "Line"]
