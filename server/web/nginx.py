"""A site of Debian's nginx that stands in front of the customers' listener."""

from __future__ import annotations

from string import Template

from server.settings import DEFAULT_PORTS, Public

MOST_CONNECTIONS = 40
"""Of one visitor at once in the API; a page holds two or three."""
SITE = Template(
    """\
# Customers' pages of Presolder at $url, passed on to $upstream.
# Made by: presolder nginx. Nothing of the bench can be reached through it.
limit_conn_zone $$binary_remote_addr zone=presolder:1m;
$redirect
server {
$listen
    server_name $name;
    server_tokens off;
    access_log off;
$tls
    # A head or a body that stands still is cut off; the server itself ends one that trickles.
    client_header_timeout 5s;
    client_body_timeout 5s;
    client_max_body_size 64k;
    send_timeout 30s;
    keepalive_timeout 10s;
    lingering_time 1s;
    lingering_timeout 1s;

    gzip on;
    gzip_proxied any;
    gzip_types text/css text/javascript application/json image/svg+xml;

    # Only what the server knows about a visitor is passed on, not what the visitor claims.
    proxy_http_version 1.1;
    proxy_set_header Host $$http_host;
    proxy_set_header X-Forwarded-For $$remote_addr;
    proxy_set_header X-Forwarded-Proto $$scheme;
    proxy_set_header X-Forwarded-Host "";
    proxy_set_header X-Real-IP "";
    proxy_set_header Forwarded "";
    proxy_set_header Via "";
    proxy_request_buffering off;
    proxy_connect_timeout 5s;
    proxy_read_timeout 60s;

    # The address of a page is the key to it: no log may hold it, the log of errors included.
    location /p/ {
        error_log /dev/null;
        proxy_pass $upstream;
    }
    location /api/p/ {
        error_log /dev/null;
        limit_conn presolder $most;
        limit_conn_status 429;
        proxy_pass $upstream;
    }
    location /web/ {
        proxy_pass $upstream;
    }
    location / {
        return 404;
    }
}
"""
)
TLS = Template(
    """
    ssl_certificate "$cert";
    ssl_certificate_key "$cert_key";
    ssl_protocols TLSv1.2 TLSv1.3;
    add_header Strict-Transport-Security "max-age=31536000" always;
"""
)
REDIRECT = Template(
    """
server {
$listen
    server_name $name;
    server_tokens off;
    access_log off;
    error_log /dev/null;
    # Where a certificate is renewed over plain http, its files lie here.
    location /.well-known/acme-challenge/ {
        root /var/www/html;
    }
    location / {
        return 301 $url$$request_uri;
    }
}
"""
)


def nginx_site(public: Public, upstream_port: int, cert: str, cert_key: str, address: str = "") -> str:
    """Return the site as a file for ``/etc/nginx/sites-enabled``.

    Parameters
    ----------
    upstream_port : int
        Where the customers' listener waits.
    cert, cert_key : str
        Certificate with its chain, and its private key, as PEM files; used where the address is https.
    address : str
        Where nginx listens; all addresses of the machine unless given.
    """
    secure = public.scheme == "https"
    name, port = _split(public.authority)
    known = {"url": public.url, "name": name}
    redirect = REDIRECT.substitute(known, listen=_listen(address, "80")) if secure and not port else ""
    return SITE.substitute(
        known,
        listen=_listen(address, f"{port or DEFAULT_PORTS[public.scheme]}{' ssl http2' if secure else ''}"),
        most=MOST_CONNECTIONS,
        upstream=f"http://{public.host}:{upstream_port}",
        tls=TLS.substitute(cert=cert, cert_key=cert_key) if secure else "",
        redirect=redirect,
    )


def _listen(address: str, port: str) -> str:
    """Return where a server of the site listens: at one address, or at all of both kinds."""
    shown = [f"{address}:"] if address else ["", "[::]:"]
    return "\n".join(f"    listen {one}{port};" for one in shown)


def _split(authority: str) -> tuple[str, str]:
    """Split a name or an address from its port."""
    name, colon, port = authority.rpartition(":")
    return (name, port) if colon and not port.endswith("]") else (authority, "")
