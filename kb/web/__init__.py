"""The same functions as pages for people and as an API for programs, on this machine's own address by default.

`app.create_app(settings)` gives the application; `guard` stands before everything it serves; `desk` holds what
requests share; `pages` are for people, `api` for programs. No page decides anything: each reads its input, calls
the function that a command of the same purpose calls, and shows the answer.
"""
