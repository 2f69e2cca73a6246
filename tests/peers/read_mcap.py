"""Reads a record with the Python packages mcap and jsonschema, with nothing of ours.

    read_mcap.py FILE          by make_reader: topics, counts, first and last message of each, and every message against its schema
    read_mcap.py --cut FILE    what each way of reading gives of a file that was cut off: messages, and what is raised
"""

import json
import sys

from jsonschema import Draft202012Validator
from mcap.reader import NonSeekingReader, make_reader
from mcap.records import Message
from mcap.stream_reader import StreamReader


def whole(stream):
    reader = make_reader(stream)
    counts, first, last, encodings, invalid, schemas = {}, {}, {}, set(), [], {}
    for schema, channel, message in reader.iter_messages():
        counts[channel.topic] = counts.get(channel.topic, 0) + 1
        value = json.loads(message.data)
        first.setdefault(channel.topic, value)
        last[channel.topic] = value
        encodings.add((schema.encoding, channel.message_encoding))
        if channel.topic not in schemas:
            text = json.loads(schema.data)
            Draft202012Validator.check_schema(text)
            schemas[channel.topic] = (text, Draft202012Validator(text))
        for error in schemas[channel.topic][1].iter_errors(value):
            invalid.append(f"{channel.topic}: {error.json_path}: {error.message}")
    return {
        "counts": counts,
        "first": first,
        "last": last,
        "metadata": {record.name: record.metadata for record in reader.iter_metadata()},
        "encodings": sorted(encodings),
        "invalid": invalid[:20],
        "schemas": {topic: text for topic, (text, _) in schemas.items()},
        "indexed": len(reader.get_summary().chunk_indexes),
    }


def told(messages):
    """How many came, and the name of what was raised instead of the next."""
    count = 0
    try:
        for _ in messages():
            count += 1
    except Exception as error:
        return [count, type(error).__name__]
    return [count, None]


def cut(path):
    def by(read):
        with open(path, "rb") as stream:
            return told(lambda: read(stream))

    return {
        "make_reader": by(lambda stream: make_reader(stream).iter_messages()),
        "streaming": by(lambda stream: NonSeekingReader(stream).iter_messages()),
        "unordered": by(lambda stream: NonSeekingReader(stream).iter_messages(log_time_order=False)),
        "records": by(lambda stream: (r for r in StreamReader(stream).records if isinstance(r, Message))),
    }


if sys.argv[1] == "--cut":
    print(json.dumps(cut(sys.argv[2])))
else:
    with open(sys.argv[1], "rb") as stream:
        print(json.dumps(whole(stream)))
