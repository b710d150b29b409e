"""The addresses of the whole service, and which action each is about."""

from tests.doors.door import Door, act, page

DOORS: dict[str, Door] = {
    "background": page("set_up"),
    "background-run": act("set_up", 302, of=({"job": "=forget_job_runs"},)),
}
