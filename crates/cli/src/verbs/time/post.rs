//! The one place of the program that speaks to a network: a request carried to a time authority by HTTP.
//!
//! Source: RFC 3161, 3.4 (the protocol over HTTP). No TLS: what is sent is a digest and a random number, and the answer
//! protects itself by its signature.

use std::time::Duration;

use ureq::config::AutoHeaderValue;

/// How long the whole exchange may take.
const PATIENCE: Duration = Duration::from_secs(30);
/// Longest answer that is read, in bytes.
const LONGEST: u64 = 64 << 10;

/// Sends the request and returns the answer, or why there is none.
///
/// No proxy, no redirection, no cookie, no word on this program: nothing is sent but the request.
pub(super) fn post(url: &str, request: &[u8]) -> Result<Vec<u8>, String> {
    let agent: ureq::Agent = ureq::Agent::config_builder()
        .timeout_global(Some(PATIENCE))
        .max_redirects(0)
        .proxy(None)
        .user_agent(AutoHeaderValue::None)
        .accept_encoding(AutoHeaderValue::None)
        .accept("application/timestamp-reply")
        .build()
        .into();
    let mut answer = agent
        .post(url)
        .content_type("application/timestamp-query")
        .send(request)
        .map_err(|error| match error {
            ureq::Error::StatusCode(code) => format!("the authority answered with status {code}"),
            other => format!("the authority was not reached: {other}"),
        })?;
    if answer.status() != 200 {
        return Err(format!(
            "the authority answered with status {}",
            answer.status().as_u16()
        ));
    }
    let kind = answer.body().mime_type().unwrap_or("no kind").to_owned();
    if kind != "application/timestamp-reply" {
        return Err(format!(
            "the authority answered with {}, application/timestamp-reply is wanted",
            kind.chars().take(60).collect::<String>()
        ));
    }
    answer
        .body_mut()
        .with_config()
        .limit(LONGEST)
        .read_to_vec()
        .map_err(|error| format!("the answer could not be read whole: {error}"))
}
