"""Reads a record with the Python package mcap, with nothing of ours: topics, counts, and one message of each."""

import json
import sys

from mcap.reader import make_reader

with open(sys.argv[1], "rb") as stream:
    reader = make_reader(stream)
    counts, first, encodings = {}, {}, set()
    for schema, channel, message in reader.iter_messages():
        counts[channel.topic] = counts.get(channel.topic, 0) + 1
        first.setdefault(channel.topic, json.loads(message.data))
        encodings.add((schema.encoding, channel.message_encoding))
    metadata = {record.name: record.metadata for record in reader.iter_metadata()}
print(json.dumps({"counts": counts, "first": first, "metadata": metadata, "encodings": sorted(encodings)}))
