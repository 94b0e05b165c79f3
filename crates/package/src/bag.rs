//! Tag files of a bag: `bagit.txt`, `bag-info.txt`, manifests. Source: RFC 8493.
