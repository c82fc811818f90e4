"""Codes of a second step as an authenticator would show them, for tests."""

from django_otp.oath import TOTP
from django_otp.plugins.otp_totp.models import TOTPDevice

from trainlog.services import second_step


def code_of(user, moment: float) -> str:
    """Code that an authenticator with the user's key shows at a moment, in seconds."""
    device = TOTPDevice.objects.get(user=user)
    totp = TOTP(device.bin_key, device.step, device.t0, device.digits)
    totp.time = moment
    return f"{totp.token():06d}"


class Clock:
    """The time of day as the codes see it, moved on by hand."""

    def __init__(self) -> None:
        self.moment = 1_800_000_000.0

    def time(self) -> float:
        """Seconds since 1970."""
        return self.moment

    def code(self, user) -> str:
        """Next code, half a minute later: none counts twice."""
        self.moment += 30
        return code_of(user, self.moment)


def turn_on(user, clock: Clock) -> list[str]:
    """Give a user a second step; the one-time codes are returned."""
    second_step.begin(user)
    return second_step.confirm(user, clock.code(user))
