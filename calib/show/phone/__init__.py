"""The live page for a browser on a phone: it shows, and nothing on it steers."""
