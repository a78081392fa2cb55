"""The web application: pages for one computer, served on loopback, with nothing fetched from outside."""
