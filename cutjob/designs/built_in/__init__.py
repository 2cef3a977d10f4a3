"""The designs that come with the program, one module each; `designs.catalogue` names them."""
