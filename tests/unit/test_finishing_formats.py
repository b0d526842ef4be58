"""Every format of the table leads to an output, and the options know them all."""

import pytest
from pydantic import ValidationError

from standclear.finishing.formats import FORMATS, output_of
from standclear.finishing.options import ExportOptions
from standclear.finishing.output import Output


@pytest.mark.parametrize("name", sorted(FORMATS))
def test_each_format_leads_to_an_output_with_words_for_it(name: str) -> None:
    output = output_of(name)
    assert isinstance(output, Output)
    assert output.label
    assert output.says
    assert output.extension.startswith(".")
    assert ExportOptions.model_validate({"format": name}).format == name


def test_a_format_that_is_none_is_refused_and_those_there_are_are_named() -> None:
    with pytest.raises(ValidationError, match="h264"):
        ExportOptions.model_validate({"format": "wax cylinder"})


def test_the_description_of_the_api_lists_the_formats() -> None:
    schema = ExportOptions.model_json_schema()["properties"]["format"]
    assert schema["enum"] == list(FORMATS)
