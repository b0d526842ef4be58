"""What a key may be used for (RFC 5280, section 4.2.1.3)."""

from cryptography import x509

_USES = (
    "digital_signature",
    "content_commitment",
    "key_encipherment",
    "data_encipherment",
    "key_agreement",
    "key_cert_sign",
    "crl_sign",
    "encipher_only",
    "decipher_only",
)


def only(*uses: str) -> x509.KeyUsage:
    """The uses named, and no other."""
    return x509.KeyUsage(**{use: use in uses for use in _USES})
