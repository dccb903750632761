"""What the ledger must endure: kills, failing system calls, power cuts, damage, and a long life of everything at once.

    python -m tests.stock.ordeal                        all of it, in numbers
    python -m tests.stock.ordeal --kills 10000          one of them: --kills, --faults, --power, --damage, --steps,
                                                        --benches, --shared-kills (these two on PostgreSQL)

What was refused must not be there; what was acknowledged must be there, once. A part of each, with its seed fixed, is
run with the tests (tests/stock/test_ordeal.py).
"""
