"""The API for programs: which routers it has, and what holds for all of their operations."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required
from ninja import NinjaAPI

from trainlog.api.check_in import router as check_ins
from trainlog.api.deletions import router as deletions
from trainlog.api.document import described
from trainlog.api.files import router as files
from trainlog.api.loads import router as loads
from trainlog.api.offers import router as offers
from trainlog.api.parts import router as parts
from trainlog.api.plan import router as plans
from trainlog.api.preconditions import heed_preconditions
from trainlog.api.problems import answer_with_problems
from trainlog.api.problems import router as problems
from trainlog.api.rates import RequestsAMinute
from trainlog.api.recovery import router as recovery
from trainlog.api.repeats import do_once
from trainlog.api.sets import router as lift_sets
from trainlog.api.settings import router as load_settings
from trainlog.api.several import router as several
from trainlog.api.stays import router as stays
from trainlog.api.trend import router as trend
from trainlog.api.unknown_days import router as unknown_days
from trainlog.api.who import SignedIn, Token
from trainlog.api.workouts import router as workouts

DESCRIPTION = """
Workouts, loads and weeks of your log. A program sends a token that you make under Account, Programs, in the
header `Authorization: Bearer`; one that may only read is refused (403) where something would change. A token
is asked for no second step. In a browser that has signed in, its second step taken where there is one, the
session cookie is the key, and requests that change something carry the site's CSRF token in the header
`X-CSRFToken`; this page sends it by itself. No operation makes tokens or deletes the log: both ask for a
person.

A load is in the arbitrary unit of its measure, which is the athlete's choice (at first Banister's training
impulse); heart rate in beats a minute. Whole tables, as CSV or Parquet with types and units, are at
/export/workouts.csv, /export/check-ins.csv, /export/sets.csv, and the same with .parquet; `first` and `last`
choose local days.

**Problems.** Whatever is not carried out is answered with `application/problem+json` (RFC 9457).

**Pages.** A list that goes on is answered a page at a time, `page_size` rows; the header `Link` names the
next page with rel="next", and is not there on the last.

**Tags.** What is shown has an `ETag`: send it as `If-None-Match`, and what is still the same is answered 304
without content. Send it as `If-Match` with PUT, PATCH or DELETE of the same address, and nothing is done
(412) if it changed meanwhile.

**Sent twice.** A POST with an `Idempotency-Key` of your making (a UUID, say) is done once and answered alike
when it comes again within a day; with another content under the same key it is refused (422).

**Rates.** Each token has so many requests a minute, reads and changes apart; beyond them, 429 and
`Retry-After` in seconds.

An address without v1 means this version.
"""


class LogAPI(NinjaAPI):
    """The API, with its whole description."""

    def get_openapi_schema(self, **options: Any) -> Any:
        """Description of all operations, completed by what holds for all of them."""
        return described(super().get_openapi_schema(**options))


api = LogAPI(
    title="Training log",
    version="1",
    description=DESCRIPTION,
    auth=[Token(), SignedIn()],
    throttle=[RequestsAMinute()],
    docs_decorator=login_required,
)
answer_with_problems(api)
api.add_decorator(do_once, mode="view")
api.add_decorator(heed_preconditions, mode="view")

api.add_router("", files, tags=["files"])
api.add_router("", workouts, tags=["workouts"])
api.add_router("", loads, tags=["loads"])
api.add_router("", check_ins, tags=["mornings"])
api.add_router("", trend, tags=["loads"])
api.add_router("", load_settings, tags=["loads"])
api.add_router("", offers, tags=["mornings"])
api.add_router("", recovery, tags=["recovery"])
api.add_router("", plans, tags=["plans"])
api.add_router("", parts, tags=["workouts"])
api.add_router("", lift_sets, tags=["sets of lifting"])
api.add_router("", stays, tags=["days"])
api.add_router("", unknown_days, tags=["days"])
api.add_router("", several, tags=["workouts"])
api.add_router("", deletions, tags=["deleted lately"])
# A string, so that the log knows nothing of whoever learns about sensors.
api.add_router("", "accuracy.api.router", tags=["sensors"])
api.add_router("", "accuracy.api_traces.router", tags=["sensors"])
api.add_router("", "accuracy.api_reports.router", tags=["reports"])
api.add_router("", problems, tags=["problems"])
