//! Zip files, read in one way only and written stored. Source: APPNOTE.TXT 6.3 (from memory).
