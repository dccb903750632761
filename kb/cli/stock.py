"""The command group `stock`, whole: importing this module registers every one of its commands."""

from kb.cli import stock_buying, stock_decisions, stock_events, stock_files, stock_keeping, stock_shelf
from kb.cli.stock_common import app

__all__ = ["app", "stock_buying", "stock_decisions", "stock_events", "stock_files", "stock_keeping", "stock_shelf"]
