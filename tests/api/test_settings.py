"""Settings are read once, and a wrong one stops the start by name."""

import dataclasses

import pytest

from api.settings import SETTINGS, Settings, SettingsError, read_settings, with_changes
from api.weather.sources import registry

SECRET = "a-secret-of-some-length"


def test_without_any_variable_the_server_listens_to_this_machine_only():
    settings = read_settings({"PATH": "/bin"})

    assert (settings.host, settings.port, settings.token) == ("127.0.0.1", 8425, None)
    assert settings.database_url.startswith("sqlite:///")
    assert settings.cache_path.parent == type(settings.cache_path)(settings.database_url[10:]).parent


def test_every_variable_is_read():
    settings = read_settings(
        {
            "ROOTLEDGER_HOST": "0.0.0.0",
            "ROOTLEDGER_PORT": "80",
            "ROOTLEDGER_TOKEN": SECRET,
            "ROOTLEDGER_TRUSTED_HOSTS": "garden.example, .home.example",
            "ROOTLEDGER_DATABASE_URL": "postgresql+psycopg://me:word@db/garden",
            "ROOTLEDGER_CACHE_URL": "sqlite:////var/cache/forecasts.db",
            "ROOTLEDGER_CONTACT": "gardener@example.org",
            "ROOTLEDGER_OPEN_METEO_URL": "http://127.0.0.1:9000/",
            "ROOTLEDGER_OPEN_METEO_KEY": "k3y",
            "ROOTLEDGER_OPEN_METEO_ARCHIVE_URL": "https://archive.example",
            "ROOTLEDGER_OPEN_METEO_ENSEMBLE_URL": "https://ensemble.example/v1/ensemble",
            "ROOTLEDGER_MET_NORWAY_URL": "https://met.example/",
            "ROOTLEDGER_US_NWS_URL": "https://nws.example",
            "ROOTLEDGER_DWD_URL": "http://127.0.0.1:5000",
            "ROOTLEDGER_LOG_FORMAT": "json",
        }
    )

    assert settings == Settings(
        host="0.0.0.0",
        port=80,
        token=SECRET,
        trusted_hosts=("garden.example", ".home.example"),
        database_url="postgresql+psycopg://me:word@db/garden",
        cache_url="sqlite:////var/cache/forecasts.db",
        contact="gardener@example.org",
        sources={
            "OPEN_METEO_URL": "http://127.0.0.1:9000",
            "OPEN_METEO_KEY": "k3y",
            "OPEN_METEO_ARCHIVE_URL": "https://archive.example",
            "OPEN_METEO_ENSEMBLE_URL": "https://ensemble.example/v1/ensemble",
            "MET_NORWAY_URL": "https://met.example",
            "US_NWS_URL": "https://nws.example",
            "DWD_URL": "http://127.0.0.1:5000",
        },
        log_format="json",
    )
    assert str(settings.cache_path) == "/var/cache/forecasts.db"


def test_every_setting_has_a_reader():
    own = {field.name.upper() for field in dataclasses.fields(Settings)} - {"SOURCES"}
    assert own | set(registry.SETTINGS) == set(SETTINGS)


@pytest.mark.parametrize("name", ["HOST", "PORT", "LOG_FORMAT"])
def test_the_guide_s_default_is_the_one_that_holds(name):
    assert SETTINGS[name].default == f"`{getattr(Settings(), name.lower())}`"


@pytest.mark.parametrize(
    ("variable", "value", "allowed"),
    [
        ("ROOTLEDGER_PORT", "http", "a whole number from 1 to 65535"),
        ("ROOTLEDGER_PORT", "0", "a whole number from 1 to 65535"),
        ("ROOTLEDGER_PORT", "9" * 5000, "a whole number from 1 to 65535"),
        ("ROOTLEDGER_HOST", "http://garden", "a host name or an address"),
        ("ROOTLEDGER_TRUSTED_HOSTS", "http://garden", "host names without port"),
        ("ROOTLEDGER_TRUSTED_HOSTS", "*", "host names without port"),
        ("ROOTLEDGER_CACHE_URL", "redis://cache", "sqlite:/// and the path"),
        ("ROOTLEDGER_CONTACT", "me\nX-Header: 1", "printable ASCII"),
        ("ROOTLEDGER_OPEN_METEO_URL", "ftp://weather", "an http or https address"),
        ("ROOTLEDGER_OPEN_METEO_URL", "http://weather:port", "an http or https address"),
        ("ROOTLEDGER_LOG_FORMAT", "yaml", '"text" or "json"'),
    ],
)
def test_a_wrong_value_is_named_with_what_is_allowed(variable, value, allowed):
    with pytest.raises(SettingsError) as error:
        read_settings({variable: value})

    assert variable in str(error.value)
    assert repr(value) in str(error.value)
    assert allowed in str(error.value)


@pytest.mark.parametrize(
    ("variable", "value"),
    [
        ("ROOTLEDGER_TOKEN", "too short"),
        ("ROOTLEDGER_OPEN_METEO_KEY", "with space"),
        ("ROOTLEDGER_DATABASE_URL", "mysql://me:word@db/garden"),
        ("ROOTLEDGER_DATABASE_URL", "no address"),
    ],
)
def test_a_wrong_secret_is_named_and_not_repeated(variable, value):
    with pytest.raises(SettingsError) as error:
        read_settings({variable: value})

    assert variable in str(error.value)
    assert value not in str(error.value)


def test_all_wrong_settings_are_told_at_once():
    with pytest.raises(SettingsError) as error:
        read_settings({"ROOTLEDGER_PORT": "x", "ROOTLEDGER_LOG_FORMAT": "x"})

    assert len(error.value.sentences) == 2


def test_an_unknown_variable_is_refused_with_the_nearest_name():
    with pytest.raises(
        SettingsError, match=r"ROOTLEDGER_TOKENS is not a setting\. Did you mean ROOTLEDGER_TOKEN\?"
    ):
        read_settings({"ROOTLEDGER_TOKENS": SECRET})


def test_a_variable_set_to_nothing_is_not_set():
    assert read_settings({"ROOTLEDGER_TOKEN": "", "ROOTLEDGER_PORT": " "}) == read_settings({})


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.5", "::", "garden.example"])
def test_beyond_loopback_a_token_is_needed(host):
    with pytest.raises(SettingsError, match="ROOTLEDGER_TOKEN"):
        read_settings({"ROOTLEDGER_HOST": host})
    with pytest.raises(SettingsError, match="ROOTLEDGER_TOKEN"):
        with_changes(Settings(), host=host)

    assert read_settings({"ROOTLEDGER_HOST": host, "ROOTLEDGER_TOKEN": SECRET}).host == host


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "localhost", "LOCALHOST"])
def test_on_loopback_no_token_is_needed(host):
    assert read_settings({"ROOTLEDGER_HOST": host}).token is None


def test_secrets_do_not_show_in_a_log_of_the_settings():
    settings = Settings(
        token=SECRET, sources={"OPEN_METEO_KEY": "k3y-k3y"}, database_url="postgresql://me:word@db/garden"
    )

    assert SECRET not in repr(settings)
    assert "k3y-k3y" not in repr(settings)
    assert "word" not in repr(settings)


def test_this_machine_and_its_own_name_are_answered_hosts():
    assert Settings(host="fd00::5", token=SECRET, trusted_hosts=("garden.example",)).answered_hosts == (
        "localhost",
        "127.0.0.1",
        "[::1]",
        "[fd00::5]",
        "garden.example",
    )


def test_an_ensemble_can_be_done_without():
    assert read_settings({"ROOTLEDGER_OPEN_METEO_ENSEMBLE_URL": "none"}).sources == {
        "OPEN_METEO_ENSEMBLE_URL": ""
    }
    with pytest.raises(SettingsError, match="OPEN_METEO_ENSEMBLE_URL is 'nothing'"):
        read_settings({"ROOTLEDGER_OPEN_METEO_ENSEMBLE_URL": "nothing"})
