"""The close-out file: what a break-in was, as one document that anybody can check later."""
