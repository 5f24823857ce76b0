"""The scripts of the phone, run in Chromium, against RFC 9180, two HPKE libraries, a geodesic library and our rules."""

from __future__ import annotations

import base64
import json
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from geographiclib.geodesic import Geodesic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser, Page
from pyhpke import AEADId, CipherSuite, KDFId, KEMId, KEMKey

from safety.rules.case.category import Answer
from safety.rules.case.washing import Spell, wash_summary
from safety.services.phone.keys import open_wire, seal_info
from tests import needs
from tests.browser.conftest import Service

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), needs.once(), pytest.mark.timeout(300)]

# RFC 9180, appendix A.3.1 (base mode, DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM), first encryption.
RFC = {
    "info": "4f6465206f6e2061204772656369616e2055726e",
    "pkEm": "04a92719c6195d5085104f469a8b9814d5838ff72b60501e2c4466e5e67b325ac98536d7b61a1af4b78e5b7f951c0900be863c403ce65c9bfcb9382657222d18c4",
    "skEm": "4995788ef4b9d6132b249ce59a77281493eb39af373d236a1fe415cb0c2d7beb",
    "pkRm": "04fe8c19ce0905191ebc298a9245792531f26f0cece2460639e8bc39cb7f706a826a779b4cf969b8a0e539c7f62fb3d30ad6aa8f80e30f1d128aafd68a2ce72ea0",
    "shared": "c0d26aeab536609a572b07695d933b589dcf363ff9d93c93adea537aeabb8cb8",
    "key": "868c066ef58aae6dc589b6cfdd18f97e",
    "nonce": "4e0bc5018beba4bf004cca59",
    "aad": "436f756e742d30",
    "plain": "4265617574792069732074727574682c20747275746820626561757479",
    "sealed": "5ad590bb8baa577f8619db35a36311226a896e7342a6d836d8b7bcd2f20b6c7f9076ac232e3ab2523f39513434",
}
SUITE = CipherSuite.new(KEMId.DHKEM_P256_HKDF_SHA256, KDFId.HKDF_SHA256, AEADId.AES128_GCM)
MESSAGE_KEY = "0b5257aa-1111-4222-8333-444455556666"

SEAL_VECTOR = """
async (v) => {
  const { sealBytes, toText } = await import('/phone/files/any/seal.js');
  const bytes = (hex) => Uint8Array.from(hex.match(/../g), (pair) => parseInt(pair, 16));
  const hex = (data) => [...data].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  const algorithm = { name: 'ECDH', namedCurve: 'P-256' };
  const point = bytes(v.pkEm);
  const jwk = { kty: 'EC', crv: 'P-256', x: toText(point.slice(1, 33)), y: toText(point.slice(33)), d: toText(bytes(v.skEm)) };
  const privateKey = await crypto.subtle.importKey('jwk', jwk, algorithm, true, ['deriveBits']);
  const publicKey = await crypto.subtle.importKey('raw', point, algorithm, true, []);
  const made = await sealBytes({
    receiver: bytes(v.pkRm), info: bytes(v.info), plain: bytes(v.plain), aad: bytes(v.aad), pair: { privateKey, publicKey },
  });
  return Object.fromEntries(Object.entries(made).map(([name, data]) => [name, hex(data)]));
}
"""
SEAL_MESSAGE = """
async ([point, key, message]) =>
  (await import('/phone/files/any/seal.js')).sealMessage(point, key, message)
"""


@pytest.fixture(scope="module")
def page(browser: Browser, service: Service) -> Iterator[Page]:
    context = browser.new_context(base_url=service.url)
    page = context.new_page()
    page.goto("/phone/")
    yield page
    context.close()


def test_sealing_gives_the_bytes_of_the_rfc(page: Page) -> None:
    made = page.evaluate(SEAL_VECTOR, RFC)
    assert made["enc"] == RFC["pkEm"]
    assert {name: made[name] for name in ("shared", "key", "nonce", "sealed")} == {
        name: RFC[name] for name in ("shared", "key", "nonce", "sealed")
    }


@pytest.mark.parametrize("words", ["", "é ß ∞ 狗", "x" * 9000], ids=["empty", "not ascii", "long"])
def test_what_the_phone_seals_two_libraries_open_and_nobody_under_another_key(page: Page, words: str) -> None:
    private = ec.generate_private_key(ec.SECP256R1())
    point = private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    text = base64.urlsafe_b64encode(point).rstrip(b"=").decode()
    sealed = page.evaluate(SEAL_MESSAGE, [text, MESSAGE_KEY, {"body": words}])
    wire = base64.urlsafe_b64decode(sealed + "=" * (-len(sealed) % 4))

    info = seal_info(uuid.UUID(MESSAGE_KEY))
    assert json.loads(open_wire(wire, private, info)) == {"body": words}
    receiver = SUITE.create_recipient_context(
        wire[:65], KEMKey.from_pyca_cryptography_key(private), info=info
    )
    assert json.loads(receiver.open(wire[65:])) == {"body": words}
    with pytest.raises(InvalidTag):
        open_wire(wire, private, seal_info(uuid.uuid4()))


def test_the_same_message_sealed_twice_never_looks_the_same(page: Page) -> None:
    point = base64.urlsafe_b64encode(bytes.fromhex(RFC["pkRm"])).rstrip(b"=").decode()
    assert len({page.evaluate(SEAL_MESSAGE, [point, MESSAGE_KEY, {}]) for _turn in range(5)}) == 5


def table(name: str) -> list[dict[str, Any]]:
    path = Path(__file__).parent.parent / "safety" / name
    return json.loads(path.read_text())["cases"]  # type: ignore[no-any-return]


CHOOSE = """
async ({ clinics, position, at, travel_kmh, immunoglobulin_wanted, of_the_day, window: [start, open_until] }) => {
  const { chooseClinic } = await import('/phone/files/any/clinics.js');
  const choice = chooseClinic({
    position, at: Date.parse(at), wanted: immunoglobulin_wanted,
    field: { clinics, travel_kmh, open_until, day: at.slice(0, 10), clinic_of_the_day: of_the_day, offsets: [[start, 0]] },
  });
  return {
    chosen: choice.chosen && choice.chosen.clinic.id,
    order: choice.order.map((one) => one.clinic.id),
    doors: Object.fromEntries(choice.order.map((one) => [one.clinic.id, one.door])),
  };
}
"""


@pytest.mark.parametrize("case", table("clinic_cases.json"), ids=lambda case: case["name"])
def test_the_phone_chooses_the_clinic_the_service_chooses(page: Page, case: dict[str, Any]) -> None:
    said = page.evaluate(CHOOSE, case)
    assert said == {name: case[name] for name in ("chosen", "order", "doors")}


URGENT = """async (answers) => {
  const { reportOf, urgencyOf } = await import('/phone/files/any/questions.js');
  const { wounds, animal } = reportOf({ answers, happened_at: 0 }, true);
  return { wounds, animal, urgent: urgencyOf(answers) };
}"""


@pytest.mark.parametrize("case", table("urgency_cases.json"), ids=lambda case: case["name"])
def test_the_phone_tells_the_service_and_the_clinic_the_same(page: Page, case: dict[str, Any]) -> None:
    said = page.evaluate(URGENT, case["answers"])
    assert said == {name: case[name] for name in ("wounds", "animal", "urgent")}


PLACES = [(0, 0), (-1.3, 36.8), (51.5, -0.1), (-33.9, 151.2), (27.7, 85.3), (-17, 179.95), (-17, -179.95), (71, 25)]  # fmt: skip


def test_distances_on_the_phone_are_the_geodesics_within_six_in_a_thousand(page: Page) -> None:
    """Against GeographicLib's inverse on WGS 84; near and far, along and across, over the date line."""
    pairs = [(a, b) for a in PLACES for b in PLACES if a != b]
    pairs += [((lat, lon), (lat + 0.05, lon + 0.02)) for lat, lon in PLACES]
    script = """async (pairs) => {
      const { metresBetween } = await import('/phone/files/any/clinics.js');
      const at = ([latitude, longitude]) => ({ latitude, longitude });
      return pairs.map(([a, b]) => metresBetween(at(a), at(b)));
    }"""
    for (a, b), metres in zip(pairs, page.evaluate(script, pairs), strict=True):
        exact = Geodesic.WGS84.Inverse(*a, *b)["s12"]
        assert abs(metres - exact) <= 0.006 * exact, (a, b, metres, exact)


WASHED = """async ([spells, now, minutes]) => {
  const { reading } = await import('/phone/files/any/clock.js');
  return reading(spells, now, minutes);
}"""
START = 1_774_746_000_000  # 2026-03-29T01:00Z, when clocks change in half of Europe


@pytest.mark.parametrize(
    ("seconds", "left", "done"), [(0, 900, False), (899, 1, False), (900, 0, True), (901, 0, True)]
)
def test_fourteen_fifty_nine_is_not_fifteen_minutes(page: Page, seconds: int, left: int, done: bool) -> None:
    """15 minutes of soap and running water (common practice; WHO, read in a secondary copy)."""
    spell = {"started_at": START, "stopped_at": None}
    said = page.evaluate(WASHED, [[spell], START + seconds * 1000 + 999, 15])
    assert said == {"washed": seconds, "left": left, "done": done}


SECONDS = st.integers(0, 4000)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(spans=st.lists(st.tuples(SECONDS, SECONDS), min_size=1, max_size=4))
def test_spells_add_up_on_the_phone_as_in_the_service(page: Page, spans: list[tuple[int, int]]) -> None:
    """Stopped spells in any order, apart or overlapping, over a change of the clocks."""
    ordered = [(min(span), max(span)) for span in spans]
    on_phone = [{"started_at": START + a * 1000, "stopped_at": START + b * 1000} for a, b in ordered]
    instant = lambda second: datetime.fromtimestamp(START / 1000 + second, UTC)  # noqa: E731
    rule = wash_summary(
        spells=[Spell(instant(a), instant(b), Answer.UNKNOWN) for a, b in ordered],
        stated_not_washed=False,
        target_minutes=15,
        now=instant(5000),
    )
    said = page.evaluate(WASHED, [on_phone, START + 5_000_000, 15])
    assert (said["washed"], said["left"]) == (rule.seconds, rule.short_seconds)
