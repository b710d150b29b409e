import pytest

from analytics.rules.figure_addresses import is_figure, shortened


@pytest.mark.parametrize(
    "address",
    ["/outcomes/?horizon=12m", "https://holdfast.example/harms/", "/outcomes/literature/?kind=x"],
)
def test_the_pages_of_the_figures_are_known_on_any_host(address: str) -> None:
    assert is_figure(address)


@pytest.mark.parametrize(
    "address",
    [
        "javascript:alert(1)",
        "/patients/P-1/",
        "outcomes",
        "/",
        "",
        "https://holdfast.example//outcomes/",
        "ftp://holdfast.example/outcomes/",
        "http://[outcomes/",
    ],
)
def test_everything_else_is_no_figure(address: str) -> None:
    assert not is_figure(address)


def test_the_host_is_not_kept_since_it_may_change() -> None:
    assert shortened("https://holdfast.example/outcomes/?by=site#top") == "/outcomes/?by=site"
    assert shortened("//other.example/outcomes/") == "/outcomes/"
    assert shortened("") == ""
