"""Reads the papers of a folder with Python's own parsers and answers what they hold, as JSON."""
import base64
import csv
import email
import email.policy
import io
import json
import pathlib
import sys

folder = pathlib.Path(sys.argv[1])


def rows(data):
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


message = email.message_from_bytes((folder / "letter.eml").read_bytes(), policy=email.policy.default)
parts = {
    part.get_filename(): base64.b64encode(part.get_payload(decode=True)).decode("ascii")
    for part in message.iter_attachments()
}
print(json.dumps({
    "register": rows((folder / "register.csv").read_bytes()),
    "order": rows((folder / "order.csv").read_bytes()),
    "subject": message["subject"],
    "from": message["from"],
    "to": message["to"],
    "unsent": message["x-unsent"],
    "date": str(message["date"].datetime),
    "defects": [str(d) for part in message.walk() for d in part.defects],
    "types": [part.get_content_type() for part in message.walk()],
    "plain": message.get_body(("plain",)).get_content(),
    "html": message.get_body(("html",)).get_content(),
    "attachments": parts,
    "geojson": json.loads((folder / "survey.geojson").read_text("utf-8")),
}))
