"""The desk: everything the command line does, for a browser on the same machine."""
