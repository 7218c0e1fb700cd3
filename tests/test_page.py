"""`companion page`: what it shows, what it writes, and whom it refuses."""
from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
from hashlib import sha256
from pathlib import Path
from urllib.parse import quote

import pytest

from companion.__main__ import main
from companion.core.log.journal import public_hex
from companion.office.page.desk import Desk
from companion.office.page.serve import listening
from companion.office.review_log import (
    CardApproved, CardWithdrawn, FindingAnswered, HoldSignedOff, JobSignedOff, append, review_path)
from companion.office.review.indexing import update
from companion.office.review.store import Store
from logmaker import KEY, OTHER_KEY
from made_index import many_jobs
from officemaker import session, worked, write_log
from pagemaker import HOST, NOW, PORT, SOUND, Reader, fill, looked_at
from test_record import CARDS, EVIL, Page, hostile

JOB = "/job/van-17.jsonl"
PAPERS = (JOB + "/record", JOB + "/customer", JOB + "/claim")
ADDRESSES = ("/jobs", "/jobs?signed=no&finding=wrong-cylinder", JOB, "/job/changed.jsonl", "/job/held.jsonl", "/trends",
             "/cards",
             "/office", "/help", *PAPERS)
EVIL_NAME = "<script>alert(1)<b onload=x>\"'&#46;%2e{a}.jsonl"
"""The worst name that a file can have here."""


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Path:
    """A folder that has been indexed once, to be copied."""
    folder = fill(tmp_path_factory.mktemp("jobs"))
    update(Store(str(folder)), workers=1)
    return folder


@pytest.fixture(scope="module")
def reader(filled) -> Reader:
    """Somebody who only reads."""
    return Reader(looked_at(filled))


@pytest.fixture
def office(filled, tmp_path) -> Reader:
    """Somebody who writes, in a folder of their own."""
    shutil.copytree(filled, tmp_path / "jobs")
    return Reader(looked_at(tmp_path / "jobs"))


# -- the list ----------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("query, logs", [
    ({}, {"learning", "road-wheels", "van-17", "unfinished", "held", "changed"}),
    ({"finding": "wrong-cylinder"}, {"van-17"}),
    ({"severity": "serious", "since": "2023-11-19"}, {"changed"}),
    ({"since": "2023-11-16", "until": "2023-11-17"}, {"van-17", "unfinished"}),
    ({"card": "road-wheels"}, {"road-wheels"}),
    ({"mechanic": "me"}, {"road-wheels", "van-17"}),
    ({"vehicle": "4217", "finding": "any"}, {"road-wheels", "van-17"}),
    ({"text": "point to cylinder three"}, {"van-17"}),
    ({"text": "HELD"}, {"held"}),
    ({"kind": "real"}, set()),
    ({"signed": "yes"}, set()),
    ({"answered": "yes", "finding": "hold-unsigned"}, set()),
])
def test_the_address_says_which_jobs_are_shown(reader, query, logs):
    """Every filter, alone and together, shows just its jobs."""
    assert set(reader.logs(**query)) == logs


def test_a_log_that_tells_no_day_is_of_every_day(office):
    """Whoever looks at one month still sees the file that cannot be read."""
    (office.desk.folder / "no-log.jsonl").write_text("nothing that a companion wrote\n", encoding="utf-8")
    office.desk.look()
    assert office.logs(since="2030-01-01") == office.logs(until="2000-01-01") == ["no-log"]
    assert "a signature would vouch for nothing" in office.page("/job/no-log.jsonl")


def test_what_became_of_a_job_is_said_in_a_sentence(office):
    """A whole one, one left, and a file without a card."""
    (office.desk.folder / "no-log.jsonl").write_text("nothing that a companion wrote\n", encoding="utf-8")
    office.desk.look()
    for log, said in (("learning", "Learn the companion, finished."),
                      ("unfinished", "Learn the companion, not finished, as far as the log goes."),
                      ("no-log", "The job card cannot be read. The job was not finished, as far as the log goes.")):
        assert said in office.page(f"/job/{log}.jsonl")


def test_the_first_page_is_what_is_to_be_done(reader):
    """It leads to the jobs that nobody has signed off, worst first: a changed log comes before one without an end."""
    assert reader.get("/").headers["Location"] == "/jobs?signed=no"
    logs = reader.logs(signed="no")
    assert logs.index("changed") < logs.index("unfinished") and len(logs) == 6
    assert reader.get("/next").headers["Location"] == f"/job/{logs[1]}.jsonl", "the changed one cannot be signed off"


def test_a_kind_of_finding_is_one_link_away_with_its_count_and_meaning(reader):
    """A newcomer reads what was found, in how many jobs and what it means, and follows the link to just those."""
    page = reader.page("/jobs?signed=no")
    link = re.search('<a href="([^"]*)"><span class="number">1</span> wrong-cylinder</a>'
                     '<span class="said">another cylinder was named than the evidence shows</span>', page)
    assert link and set(reader.logs(finding="wrong-cylinder", signed="no")) == {"van-17"}
    just_those = reader.page(link[1].replace("&amp;", "&"))
    assert "codes and readings point to cylinder three" in just_those, "the sentence stands in the list"


@pytest.mark.parametrize("query, said", [
    ("since=2023-13-01", "must be a day such as 2026-10-01"), ("until=yesterday", "must be a day"),
    ("finding=x", "must be one of any"),
    ("severity=bad", "must be one of serious"), ("order=log;drop", "must be one of newest"),
    ("page=0", "must be a whole number"),
    ("page=9999999999", "must be a whole number"), ("page=%D9%A1", "must be a whole number"),
    ("signed=maybe", "must be one of no, yes"),
    ("text=" + "x" * 201, "at most 200 characters"), ("since=20231101", "must be a day")])
def test_a_filter_that_cannot_be_is_refused_in_words(reader, query, said):
    """Nothing is guessed, and nothing of the address reaches the database as words of its language."""
    found = reader.get(f"/jobs?{query}")
    assert found.status_code == 400 and said in found.text.replace("&#x27;", "'")


def test_a_form_of_filters_leads_to_an_address_that_says_only_what_was_asked(reader):
    """A browser sends empty fields too; they do not stay in the address."""
    found = reader.get("/jobs?text=&signed=no&finding=&order=worst&mechanic=ME")
    assert found.status_code == 302 and found.headers["Location"] == "/jobs?mechanic=ME&signed=no"


def test_a_hundred_thousand_jobs_are_paged_and_counted(tmp_path):
    """The pages of 100,000 jobs hold every job once. How fast they are, `python tests/list_speed.py` measures."""
    index = many_jobs(100_000)
    desk = Desk(tmp_path, KEY, lambda: NOW, look=lambda progress, workers: index)
    desk.look()
    reader = Reader(desk)
    pages = [reader.logs(mechanic="M7", card="card-2", order="oldest", page=str(page)) for page in range(1, 6)]
    assert [len(page) for page in pages] == [50] * 5
    assert pages[0][0] == "job-000007", "7, 47, 87 …: mechanic M7 and card 2"
    assert sum(pages, []) == sorted({log for page in pages for log in page})
    assert not reader.logs(page="2001") and "The list has no such page." in reader.page("/jobs?page=2001")


# -- a job -------------------------------------------------------------------------------------------------------------

def test_a_job_says_what_is_wrong_where_and_what_it_was(reader):
    """Its findings with lines, whether it is practice, and the way to its record; the facts are those of the log."""
    page = reader.page(JOB)
    assert "codes and readings point to cylinder three. It was " in page
    assert "PRACTICE – invented figures" in page
    lines = re.findall('href="/job/van-17.jsonl/record#(line-[0-9]+)"', page)
    assert lines and all(f'id="{line}"' in reader.page(f"{JOB}/record")
                         for line in lines), "each leads to its line in the record"
    assert '<th scope="row">Complaint</th><td>rough idle</td>' in page
    assert all("PRACTICE" in reader.page(address) for address in (*PAPERS, "/trends"))
    assert reader.page("/jobs").count('class="practice"') == 6


def test_a_sign_off_is_a_signed_line_and_binds_to_the_log_as_it_was(office):
    """Written, shown with its time and line, and gone from what is to be done; when the log grows, the page says so."""
    for log in ("van-17", "unfinished"):
        address = f"/job/{log}.jsonl"
        found = office.send(f"{address}/sign", address, by=" A.  Example ", reason="read the\r\nrecord")
        assert found.status_code == 303
        page = office.page(found.headers["Location"])
        assert f"Written to the office&#x27;s log, line {len(office.review())}, on 2023-12-24 12:00 UTC." in page
        assert "Signed off: read the record" in page and "– A. Example, 2023-12-24 12:00 UTC" in page
    assert set(office.logs(signed="yes")) == {"van-17", "unfinished"} and "van-17" not in office.logs(signed="no")
    seals = [fact.seal for fact in office.review()]
    assert all(re.fullmatch("[0-9a-f]{64}", seal) for seal in seals)
    write_log(office.desk.folder, "unfinished", session("learning"), 3 * 86_400_000)
    assert "The log has changed since." in office.page("/job/unfinished.jsonl")
    office.desk.look()
    assert set(office.logs(signed="yes")) == {"van-17"}
    assert "changed since it was signed off" in office.page("/jobs?text=unfinished")


def test_a_log_that_grew_since_the_last_look_is_not_signed_off_on_old_findings(office):
    """What is on the page was found in another log than the one that would be signed."""
    write_log(office.desk.folder, "unfinished", worked("learning", ["next", "next"]), 3 * 86_400_000)
    address = "/job/unfinished.jsonl"
    found = office.send(f"{address}/sign", address, by="A. Example", reason="seen")
    assert found.status_code == 400 and "has changed since the folder was looked at. Look again" in found.text
    assert not office.review()
    office.desk.look()
    assert office.send(f"{address}/sign", address, by="A. Example", reason="seen").status_code == 303


@pytest.mark.parametrize("typed, said", [
    ({"by": "", "reason": "seen"}, "Your name: must be 1 to 200 printable characters on one line; it was empty."),
    ({"by": " \t ", "reason": "seen"}, "Your name: must be"),
    ({"by": "A. Example", "reason": "\n"},
     "Reason: must be 1 to 2,000 printable characters on one line; it was empty."),
    ({"by": "A. Example", "reason": "x" * 2001}, "Reason: must be 1 to 2,000"),
    ({"by": "A\u202eB", "reason": "seen"}, "Your name: must be"),
    ({"by": "A. Example", "reason": "seen", "seal": "AAAA BBBB CCCC"}, "has changed while you were reading it")])
def test_a_sign_off_without_name_or_reason_is_refused_and_nothing_typed_is_lost(office, typed, said):
    """The page says what is wrong, keeps what was typed, and puts the reader into the field; nothing is written."""
    found = office.send(f"{JOB}/sign", JOB, **typed)
    assert found.status_code == 400 and said in found.text and 'role="alert"' in found.text
    assert all(value.strip() in found.text for name, value in typed.items() if name != "seal" and value.isprintable())
    assert ("autofocus" in found.text) == ("seal" not in typed) and not review_path(office.desk.folder).exists()


def test_a_sign_off_sent_twice_is_one_line(office):
    """A double click: name, reason and seal are the same, and the page says that it is signed already. Another reason
    is another line, and so is a reply."""
    for number in range(2):
        found = office.send(f"{JOB}/sign", JOB, by="A. Example", reason="read")
        assert found.status_code == 303 and len(office.review()) == 1
        said = ("Written to", "Already written, to")[number]
        assert f"{said} the office&#x27;s log, line 1," in office.page(found.headers["Location"])
    office.send(f"{JOB}/sign", JOB, by="A. Example", reason="read once more")
    assert len(office.review()) == 2
    for _ in range(2):
        office.send(f"{JOB}/reply", JOB, 'value="wrong-cylinder"', by="B. Example", text="from the other end")
    assert len(office.review()) == 3


LIST = "/jobs?severity=serious&signed=no"


def test_a_job_leads_back_to_its_list_and_on_to_the_next(office):
    """The list's filters stay with the reader through forms and from job to job, which come in the list's order and
    begin anew at the end."""
    link, = re.findall('href="(/job/van-17[^"]*)"', office.page(LIST))
    page = office.page(link)
    assert f'href="{LIST.replace("&", "&amp;")}" accesskey="b"' in page
    found = office.send(f"{JOB}/reply", link, 'value="wrong-cylinder"', by="B. Example", text="from the other end")
    assert f'href="{LIST.replace("&", "&amp;")}"' in office.page(found.headers["Location"])
    on = re.search('href="([^"]*)" accesskey="n"', page)[1].replace("&amp;", "&")
    due = [log for log in office.logs() if log != "changed"]
    after = due[(due.index("van-17") + 1) % len(due)]
    assert office.get(on).headers["Location"] == f"/job/{after}.jsonl?from={quote(LIST, safe='')}"
    assert office.get(f"/next?after={due[-1]}.jsonl").headers["Location"] == f"/job/{due[0]}.jsonl"


@pytest.mark.parametrize("given", [
    "https://evil.example/jobs?signed=no", "//evil.example/jobs?signed=no", "/jobs", "javascript:alert(1)",
    "/trends?card=x", "/jobs?severity=bad", "/jobs?page=0", "/jobs?x=y", "/jobs?" + "a&" * 99,
    "/jobs?text=" + "x" * 300])
def test_only_an_address_of_our_own_list_is_led_back_to(reader, given):
    """Whatever else stands in the address, the link goes to the list of all jobs."""
    assert '<a href="/jobs" accesskey="b">' in reader.page(f"{JOB}?from={quote(given, safe='')}")


def test_a_log_that_does_not_hold_cannot_be_signed_off(office):
    """A signature would vouch for nothing; neither the form nor a request made by hand gets it."""
    page = office.page("/job/changed.jsonl")
    assert "a signature would vouch for nothing" in page and 'action="/job/changed.jsonl/sign"' not in page
    token = re.search('name="token" value="([^"]*)"', page)[1]
    found = office.client.post("/job/changed.jsonl/sign", data={"token": token, "by": "A", "reason": "b",
                                                                "seal": "a" * 64},
                               headers={"Host": HOST, "Origin": f"http://{HOST}"})
    assert found.status_code == 400 and "must hold to be signed off" in found.text and not office.review()


def test_a_finding_with_a_reply_stays_a_finding(office):
    """The mechanic's words stand under it with time and line, and the job waits no longer for that reply."""
    assert "held" in office.logs(answered="no")
    for name in ("hold-unsigned", "job-unfinished", "caution-rushed"):
        found = office.send("/job/held.jsonl/reply", "/job/held.jsonl", f'value="{name}"', by="B. Example",
                            text=f"about {name}: <b>late</b>")
        page = office.page(found.headers["Location"])
        assert f"<q>about {name}: &lt;b&gt;late&lt;/b&gt;</q>" in page
    assert "held" in office.logs(answered="yes", finding="job-unfinished") and "held" not in office.logs(answered="no")
    assert [type(fact) for fact in office.review()] == [FindingAnswered] * 3
    assert next(fact for fact in office.review() if fact.finding == "hold-unsigned").lines == ()
    refused = office.send("/job/held.jsonl/reply", "/job/held.jsonl", by="B. Example", text="x", finding="leak-found")
    assert refused.status_code == 400 and "has no such finding any more" in refused.text


def test_a_hold_point_waits_for_the_office(office):
    """Passed at the vehicle, it is a finding until the office signs it; one that was not passed has no form."""
    assert office.logs(finding="hold-unsigned") == ["held"]
    page = office.page("/job/held.jsonl")
    assert "Released at the vehicle by GH on 2023-11-18" in page and page.count("Not passed in this log") == 2
    office.send("/job/held.jsonl/hold", "/job/held.jsonl", by="A. Example", reason="spoke with GH")
    assert not office.logs(finding="hold-unsigned") and "Signed off: spoke with GH" in office.page("/job/held.jsonl")
    [said] = office.review()
    assert said == HoldSignedOff(by="A. Example", log="held.jsonl", step="release", reason="spoke with GH", seal=said.seal)
    release = next(line for line in (office.desk.folder / "held.jsonl").read_bytes().splitlines() if b'"spelling_logged"' in line)
    assert said.seal == sha256(release).hexdigest(), "bound to the very line of the release"
    token = re.search('name="token" value="([^"]*)"', page)[1]
    refused = office.client.post("/job/held.jsonl/hold", data={"token": token, "by": "A", "reason": "b",
                                                               "step": "look.1"},
                                 headers={"Host": HOST, "Origin": f"http://{HOST}"})
    assert refused.status_code == 400 and "has not passed that hold point" in refused.text


def test_a_list_of_trusted_keys_counts_at_once_and_its_faults_are_told(office):
    """Written while the page is open: jobs sealed with another key are findings on the next page. A list that cannot be read
    is never passed over: the page says which line, until it is put right."""
    assert not office.logs(finding="key-unknown")
    path = review_path(office.desk.folder).with_name("trusted-keys.yaml")
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"trusted_keys: 1\nkeys:\n  - key: {'ab' * 32}\n    name: another van\n    from: 2020-01-01\n")
    found = office.logs(finding="key-unknown")
    assert "van-17" in found and "learning" in found
    assert "sealed this log is not on the list" in office.page("/job/learning.jsonl")
    for address in ("/job/learning.jsonl", "/job/held.jsonl", "/cards"):
        page = office.page(address)
        assert f"companion trust FOLDER add {public_hex(KEY)} --name NAME" in page
        assert re.findall('action="([^"]*)"', page) == ["/look"], "no other form is offered"
    path.write_text("trusted_keys: 1\nkeys: oops\n")
    refused = office.client.get("/jobs", headers={"Host": HOST})
    assert refused.status_code >= 400 and "trusted-keys.yaml:2: keys must be a list" in refused.text
    path.unlink()
    assert not office.logs(finding="key-unknown")


# -- the register and the office's log ---------------------------------------------------------------------------------

def test_a_job_on_a_withdrawn_card_is_a_finding(filled, tmp_path):
    """Approved and withdrawn on the page before the job began, the card's version makes the job a finding at once."""
    shutil.copytree(filled, tmp_path / "jobs")
    desk = Desk(tmp_path / "jobs", KEY, lambda: "2023-11-01T08:00:00.000Z")
    desk.look()
    office = Reader(desk)
    assert not office.logs(finding="card-withdrawn")
    for verb, state in (("approve", "Approved"), ("withdraw", "Withdrawn")):
        found = office.send(f"/cards/{verb}", "/cards", 'value="road-wheels"', by="A. Example", reason=f"{verb} it")
        assert f"{state} on 2023-11-01 08:00 UTC by A. Example: {verb} it" in office.page(found.headers["Location"])
    assert office.logs(finding="card-withdrawn") == ["road-wheels"]
    assert "had been withdrawn on 2023-11-01 by A. Example: withdraw it" in office.page("/job/road-wheels.jsonl")
    assert [type(fact) for fact in office.review()] == [CardApproved, CardWithdrawn]
    again = office.send("/cards/approve", "/cards", 'value="learning"', by="", reason="x")
    assert again.status_code == 400 and "Your name: must be" in again.text and len(office.review()) == 2
    log = office.page("/office")
    assert "withdrew the card road-wheels, version 0.1.0" in log
    assert log.index("withdrew the card") < log.index("approved the card"), "the newest first"


def test_what_another_program_writes_is_seen_at_once(office):
    """A line of the office's log from elsewhere, and an index that was renewed, count for the very next page."""
    append(office.desk.folder, HoldSignedOff(by="C", log="held.jsonl", step="release", reason="by phone"), OTHER_KEY,
           NOW)
    assert not office.logs(finding="hold-unsigned") and "signed by 1 machine" in office.page("/office")
    write_log(office.desk.folder, "new-one", session("learning"))
    assert "new-one" not in office.logs()
    update(Store(str(office.desk.folder)), workers=1)
    assert "new-one" in office.logs() and "7 logs indexed" in office.page("/jobs") and office.page("/trends")


def test_an_office_log_that_does_not_hold_is_said_on_every_page_and_takes_no_more(office):
    """Somebody changed a line: what stands from there on does not count, and nothing is added after it."""
    office.send(f"{JOB}/sign", JOB, by="A", reason="read")
    path, seal = review_path(office.desk.folder), office.review()[0].seal
    path.write_bytes(path.read_bytes().replace(b'"by":"A"', b'"by":"B"'))
    broken = path.read_bytes()
    alarm = office.page("/trends")
    assert "The office&#x27;s log was changed after it was written, at line 1." in alarm
    assert alarm.index("Restore office/review.jsonl") < alarm.index("For the technician: sig must be")
    assert "van-17" in office.logs(signed="no")
    for page in (JOB, "/job/held.jsonl", "/cards"):
        assert set(re.findall('method="post" action="([^"]*)"', office.page(page))) == {"/look"}, "no form is offered"
    form = {"token": re.search('name="token" value="([^"]*)"', alarm)[1], "by": "A", "reason": "read", "seal": seal}
    found = office.client.post(f"{JOB}/sign", data=form, headers={"Host": HOST, "Origin": f"http://{HOST}"})
    assert found.status_code == 500 and "Nothing is added until somebody has looked at it" in found.text
    assert path.read_bytes() == broken


def test_look_again_finds_what_is_new(office):
    """While it looks, pages are served; then the new job is there."""
    write_log(office.desk.folder, "new-one", session("learning"))
    assert office.send("/look", "/jobs").status_code == 303
    until = time.monotonic() + 30
    while office.desk.progress and time.monotonic() < until:
        assert office.get("/jobs").status_code == 200
    assert "new-one" in office.logs() and not office.desk.failed
    shutil.rmtree(office.desk.folder)
    office.desk.look_again()
    while office.desk.progress and time.monotonic() < until:
        assert office.get("/jobs").status_code == 200
    assert "must be a folder of job logs" in office.page("/jobs"), "and what was known is still shown"


# -- safe --------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("host", ["", "127.0.0.1", "127.0.0.1:80", "localhost", "evil.example:8765",
                                  "127.0.0.1:8765.evil.example",
                                  "[::1]", "0.0.0.0:8765"])
def test_it_answers_to_this_machine_s_names_alone(reader, host):
    """A page elsewhere whose name was made to point here learns nothing."""
    found = reader.client.get("/jobs", headers={"Host": host})
    assert found.status_code == 421 and "van-17" not in found.text
    for own in (HOST, f"localhost:{PORT}", f"[::1]:{PORT}", f"LOCALHOST:{PORT}"):
        assert reader.client.get("/jobs", headers={"Host": own}).status_code == 200


_OWN = {"Host": HOST, "Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}


@pytest.mark.parametrize("headers, token, code", [
    (_OWN, True, 303), ({"Host": HOST, "Sec-Fetch-Site": "same-origin"}, True, 303), (_OWN, False, 403),
    (_OWN, None, 403),
    ({"Host": HOST}, True, 403), ({**_OWN, "Origin": "null"}, True, 403),
    ({**_OWN, "Origin": "https://" + HOST}, True, 403),
    ({**_OWN, "Origin": "http://evil.example"}, True, 403), ({**_OWN, "Origin": f"http://localhost:{PORT}"}, True, 403),
    ({**_OWN, "Sec-Fetch-Site": "cross-site"}, True, 403), ({**_OWN, "Sec-Fetch-Site": "same-site"}, True, 403)])
def test_only_a_form_of_this_page_writes(office, headers, token, code):
    """By origin and by the token of this start; whatever else comes writes nothing."""
    page = office.page(JOB)
    hidden = dict(re.findall('<input type="hidden" name="([^"]*)" value="([^"]*)">', page[page.index(f'{JOB}/sign"'):]))
    data = {**hidden, "by": "A", "reason": "b"}
    data["token"] = {True: data["token"], False: "x" * 43}.get(token, "")
    assert office.client.post(f"{JOB}/sign", data=data, headers=headers).status_code == code
    assert len(office.review()) == (code == 303)


def test_every_answer_carries_the_same_guard(reader):
    """Pages, style, redirects and refusals: nothing runs, nothing is framed, kept or sent on."""
    answers = [reader.get(address) for address in (*ADDRESSES, "/", "/page.css", "/none", "/jobs?page=0",
                                                   "/job/x.jsonl")]
    answers += [reader.client.get("/", headers={"Host": "evil.example"}),
                reader.client.post("/look", headers={"Host": HOST}),
                reader.client.put("/jobs", headers=_OWN), reader.client.post("/look", headers=_OWN,
                                                                             data={"x": "y" * 100_000})]
    assert [one.status_code for one in answers[-4:]] == [421, 403, 403, 413]
    for one in answers:
        policy = one.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; style-src 'self'" if "sha256" not in policy
                                 else "default-src 'none'; style-src 'sha256-")
        assert "frame-ancestors 'none'" in policy and "base-uri 'none'" in policy
        assert "script" not in policy and "unsafe" not in policy
        assert one.headers["X-Content-Type-Options"] == "nosniff" and one.headers["Cache-Control"] == "no-store"
        assert one.headers["Referrer-Policy"] == one.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert "Server" not in one.headers and "Set-Cookie" not in one.headers


@pytest.mark.parametrize("address", [
    "/job/..%2fjobs%2fvan-17.jsonl", "/job/../van-17.jsonl", "/job/%2e%2e/x", "/job/office%2freview.jsonl",
    "/job/review.jsonl",
    "/job/van-17.personal", "/job/van-17", "/job//etc/passwd", "/job/held.jsonl/held.personal",
    "/job/held.jsonl/held.jsonl",
    "/job/held.jsonl/..%2fheld.jsonl", "/job/held.jsonl/held.memo-2.flac", "/job/van-17.jsonl/held.memo-1.flac",
    "/job/%00.jsonl"])
def test_only_logs_of_the_index_and_their_memos_are_served(reader, address):
    """A name in the address is looked up in the index, never in the folder."""
    (reader.desk.folder / "held.memo-2.flac").write_bytes(SOUND)
    found = reader.get(address)
    assert found.status_code == 404 and "There is no such page" in found.text


def test_a_memo_can_be_heard_while_it_is_as_it_was_recorded(office):
    """The record plays it from beside the job's own address, in parts if need be; a changed one is not served."""
    assert office.get("/job/held.jsonl/held.memo-1.flac").status_code == 404, "not there yet"
    (office.desk.folder / "held.memo-1.flac").write_bytes(SOUND)
    record = office.get("/job/held.jsonl/record")
    assert 'src="./held.memo-1.flac"' in record.text and "media-src 'self'" in record.headers["Content-Security-Policy"]
    found = office.get("/job/held.jsonl/held.memo-1.flac")
    assert found.data == SOUND and found.mimetype == "audio/flac"
    assert office.get("/job/held.jsonl/held.memo-1.flac", Range="bytes=4-8").data == SOUND[4:9]
    (office.desk.folder / "held.memo-1.flac").write_bytes(SOUND[1:])
    assert office.get("/job/held.jsonl/held.memo-1.flac").status_code == 404


@pytest.mark.parametrize("card", CARDS)
def test_nothing_in_a_log_can_act_on_the_page(tmp_path, card):
    """Markup and control characters in every field of every event, in the log's name, in replies, reasons and card
    names: each page stays sound, has no element and no link of theirs, and no control character."""
    (tmp_path / EVIL_NAME).write_bytes(b"".join(hostile(card)))
    desk = looked_at(tmp_path)
    evil = " ".join(filter(str.isprintable, EVIL.split()))
    append(tmp_path, JobSignedOff(by=evil, log=EVIL_NAME, seal="a" * 64, reason=evil), KEY, NOW)
    for one in desk.sight().index.findings_of(EVIL_NAME)[:3]:
        append(tmp_path, FindingAnswered(by=evil, log=EVIL_NAME, finding=one["name"], lines=tuple(one["lines"]),
                                         text=evil), KEY, NOW)
    append(tmp_path, CardApproved(by=evil, card=evil, version=evil, sha256="ab" * 32, reason=evil), KEY, NOW)
    reader = Reader(desk)
    job = f"/job/{quote(EVIL_NAME, safe='')}"
    for address in ("/jobs", "/jobs?text=" + quote(evil), job, "/trends", "/cards", "/office"):
        text = reader.page(address)
        _sound(text)
        assert "alert(1)" not in re.sub("<[^>]*>", "", text) or "&lt;script&gt;" in text, "shown as text"
    assert all(reader.get(f"{job}/{paper}").status_code == 200
               for paper in ("record", "customer", "claim")) and EVIL_NAME in [row["log"]
                                                                               for row in desk.sight().index.jobs()]


@pytest.mark.parametrize("name, code", [
    ("a%2fb?x#y.jsonl", 303), ("c d.jsonl", 303), ("e&amp;.jsonl", 303), ("..jsonl", 303), ("\u00e9\u65e5.jsonl", 303),
    (".jsonl", 400)])
def test_a_log_of_any_name_can_be_opened_and_signed_off(tmp_path, name, code):
    """Whatever a file is called, its link says something and leads to it; one without any name cannot stand in the
    office's log."""
    write_log(tmp_path, "any", session("learning")).rename(tmp_path / name)
    reader = Reader(looked_at(tmp_path))
    address, words = re.search('<a href="(/job/[^"]*)">([^<]*)</a>', reader.page("/jobs")).groups()
    assert words.strip() and reader.page(f"{address}/record")
    assert reader.send(f"{address}/sign", address, by="A", reason="read").status_code == code


def _sound(text: str) -> None:
    """Well-formed, with elements and links of our own only, and nothing invisible."""
    page = Page(text)
    names = {name for name, _ in page.elements}
    assert names <= set("html head meta title link body a header nav ul ol li main h1 h2 h3 p span strong em kbd code "
                        "section div form input "
                        "label select option textarea button details summary table caption thead tbody tr th td "
                        "footer figure "
                        "figcaption svg desc g path rect circle line text tspan q".split()), names
    for _, given in page.elements:
        assert not any(key.startswith("on") or key == "style" for key in given)
        assert all(given[key].startswith(("/", "#")) and not given[key].startswith("//")
                   for key in ("href", "src", "action") if key in given)
    assert not [c for c in text if c != "\n" and not c.isprintable()]
    assert page.headings[0] == 1 and page.headings.count(1) == 1


Page.ALONE = {"meta", "link", "input"}


@pytest.mark.parametrize("address", ADDRESSES[:-len(PAPERS)])
def test_every_page_is_sound_and_takes_nothing_from_elsewhere(reader, address):
    """One first heading, every field with its label, every table with heads, no script, and every address of this
    page's own."""
    text = reader.page(address)
    _sound(text)
    assert not re.search("&lt;(?!b&gt;|/b&gt;)", text), "none of its own markup was taken for words"
    fields = re.findall('<(?:input|select|textarea)(?![^>]*type="hidden")[^>]*? id="([^"]*)"', text)
    assert len(fields) == len(set(fields)) and all(f'<label for="{field}">' in text for field in fields)
    assert len(re.findall("<(?:input|select|textarea)(?![^>]*type=\"hidden\")", text)) == len(fields)
    assert text.count("<table") == text.count("<caption") and ("<table" not in text or 'scope="' in text)
    keys = re.findall('accesskey="(.)"', text)
    assert len(keys) == len(set(keys)), keys
    assert "6 logs indexed, folder looked at on 2023-12-24 12:00 UTC." in text


# -- the command -------------------------------------------------------------------------------------------------------

def test_it_listens_on_this_machine_only(reader):
    """The socket is bound to loopback, to a port of its own where 0 is given."""
    server = listening(reader.desk, 0)
    try:
        assert server.socket.getsockname() == ("127.0.0.1",
                                               int(server.effective_port)) and int(server.effective_port) > 0
        with pytest.raises(OSError):
            listening(reader.desk, int(server.effective_port))
    finally:
        server.close()


@pytest.mark.parametrize("words, said", [(["none"], "must be a folder of job logs"),
                                         ([".", "--port", "70000"], "--port: must be from 0")])
def test_wrong_use_is_said(words, said, capsys, tmp_path, monkeypatch):
    """With exit code 2."""
    monkeypatch.chdir(tmp_path)
    assert main(["page", *words]) == 2 and said in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C of another process")
def test_the_command_serves_until_ctrl_c(filled, tmp_path, monkeypatch):
    """It prints its address, answers there, and ends with 0."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    with subprocess.Popen([sys.executable, "-m", "companion", "page", str(filled), "--port", "0"],
                          stdout=subprocess.PIPE,
                          stderr=subprocess.DEVNULL, text=True) as served:
        address = served.stdout.readline().split()[0]
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/", address)
        with urllib.request.urlopen(address, timeout=10) as answer:
            assert "van-17" in answer.read().decode("utf-8") and "Server" not in answer.headers
        served.send_signal(signal.SIGINT)
        assert served.wait(10) == 0
