"""What a form says of a field that was refused, to eyes and to a screen reader."""

import re

import pytest
from django import forms
from django.template.loader import render_to_string


class Form(forms.Form):
    minutes = forms.IntegerField(label="how long", help_text="Whole minutes.")
    rating = forms.ChoiceField(label="how hard", choices=[("1", "1"), ("2", "2")], widget=forms.RadioSelect)


@pytest.fixture
def refused():
    return Form({"minutes": "many", "rating": "9"})


def shown(field):
    return render_to_string("_field.html", {"field": field})


def ids_named(html):
    """Ids that something is described by."""
    return {one for said in re.findall(r'aria-describedby="([^"]+)"', html) for one in said.split()}


@pytest.mark.parametrize("name", ["minutes", "rating"])
def test_what_is_wrong_describes_its_field(refused, name):
    html = shown(refused[name])
    assert f"id_{name}_error" in ids_named(html)
    assert ids_named(html) <= set(re.findall(r' id="([^"]+)"', html))


def test_help_describes_its_field_too(refused):
    assert "id_minutes_helptext" in ids_named(shown(Form()["minutes"]))


def test_a_refused_field_says_that_it_is_invalid(refused):
    assert 'aria-invalid="true"' in shown(refused["minutes"])
    assert "aria-invalid" not in shown(Form()["minutes"])


def test_a_refused_form_links_to_each_field_to_mend(refused):
    said = render_to_string("_form_errors.html", {"form": refused})
    targets = re.findall(r'href="#([^"]+)"', said)
    assert targets == ["id_minutes", "id_rating_0"]
    assert all(f'id="{target}"' in shown(refused["minutes"]) + shown(refused["rating"]) for target in targets)
    assert "How long" in said


def test_a_form_that_was_not_sent_says_nothing(refused):
    assert render_to_string("_form_errors.html", {"form": Form()}).strip() == ""
