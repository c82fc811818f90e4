"""Forms of the sensor pages."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from trainlog.models import Athlete, Firmware, Sensor
from trainlog.web.seen import SeenMixin


class SensorForm(SeenMixin, forms.ModelForm):
    """One physical device."""

    class Meta:
        model = Sensor
        fields = ("name", "site", "principle")
        labels: ClassVar = {"site": "Worn on", "principle": "Reads the heart by"}
        help_texts: ClassVar = {
            "name": "Your own word for it, such as “old strap” or “left wrist”.",
            "principle": "electrical: by electrodes on the skin; optical: by light. An electrical sensor on "
            "the chest is the reference that others are held against.",
        }
        widgets: ClassVar = {"site": forms.RadioSelect, "principle": forms.RadioSelect}

    def __init__(self, athlete: Athlete, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.athlete = athlete

    def clean_name(self) -> str:
        """Refuse a name that another sensor of the same athlete has."""
        name: str = self.cleaned_data["name"]
        if Sensor.objects.of(self.athlete).filter(name=name).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(f"You have a sensor called “{name}” already.")
        return name


class FirmwareForm(SeenMixin, forms.ModelForm):
    """A version that a sensor has run from a day on."""

    class Meta:
        model = Firmware
        fields = ("version", "from_day")
        labels: ClassVar = {"from_day": "Installed on"}
        widgets: ClassVar = {"from_day": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, sensor: Sensor, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.versions = {row.from_day: row.version for row in sensor.firmware.all()}

    def there_now(self) -> dict[str, Any]:
        """All versions that are noted: a page shows them, and a new one may stand in for that of its day."""
        return {"version": sorted((str(day), version) for day, version in self.versions.items())}

    def replaced(self) -> dict[str, Any]:
        """The version that was noted of the same day."""
        day = self.cleaned_data.get("from_day")
        there = self.versions.get(day) if day else None
        return {} if there in {None, self.cleaned_data.get("version")} else {"version": there}

    def clean(self) -> dict[str, Any]:
        """Leave "one version a day" to the service, which replaces the earlier note of that day."""
        return self.cleaned_data
