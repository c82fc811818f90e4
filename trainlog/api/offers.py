"""Offered new physiology for programs; the log's API mounts this router."""

from __future__ import annotations

from datetime import date

from ninja import Field, Router, Schema

from trainlog.api.schemas import Problem, SignedInRequest
from trainlog.services.offers import RestingOffer, resting_offer

PROBLEMS = frozenset({401, 422})

router = Router()


class RestingOfferAnswer(Schema):
    """A resting rate that the mornings have settled at; it is in force only once it is entered."""

    value: float = Field(description="bpm, to the half.")
    error: float = Field(description="Standard error of the mean behind it, bpm.")
    mornings: int
    day: date = Field(description="Newest of the mornings.")


@router.get("/offers/resting-rate", response={200: RestingOfferAnswer | None, PROBLEMS: Problem})
def offered_resting_rate(request: SignedInRequest) -> RestingOffer | None:
    """Show the resting rate that is offered; null where there is none, or it was declined."""
    return resting_offer(request.auth, request.auth.today())
