"""What schemathesis needs to know beyond OpenAPI: the media type of a resumable upload's bytes."""

import schemathesis


@schemathesis.serializer("application/partial-upload")
def partial_upload(ctx, value):
    return value if isinstance(value, bytes) else str(value).encode()
