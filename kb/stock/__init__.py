"""The shelf: what came in, what was opened, used, moved, tested or condemned, and what may still be used.

Facts are events that are only ever appended (`events`); what is on the shelf is a pure fold over them (`fold`, `lots`);
they are kept where no crash, full disk or flipped bit can change them unnoticed (`stores`), behind one way in
(`ledger`, `admission`); and what a lot may still be used for follows from its life (`shelf_life`).
"""
