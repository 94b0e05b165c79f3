//! Opening a package: a folder or a zip file, with every rule of "What is refused whole".
