//! One message to the shop's mail server (RFC 5321), and what came of it. Never in plain text where the owner did not say
//! so, and never a second time where the first may have arrived.

use std::error::Error as _;
use std::time::Duration;

use lettre::address::Address;
use lettre::transport::smtp::authentication::{Credentials, Mechanism};
use lettre::transport::smtp::client::{AsyncSmtpConnection, Certificate, TlsParameters};
use lettre::transport::smtp::commands::{Data, Mail, Rcpt};
use lettre::transport::smtp::extension::ClientId;
use tokio::time::timeout;

use crate::records::message::{Attempt, MailSettings, Security};

/// How long the server may take.
#[derive(Debug, Clone, Copy)]
pub struct Patience {
    /// For each answer before the message.
    pub answer: Duration,
    /// For its word on the whole message: RFC 5321, 4.5.3.2.6 asks for ten minutes.
    pub whole: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Self { answer: Duration::from_secs(60), whole: Duration::from_secs(600) }
    }
}

/// Sends one message.
pub(super) async fn send(settings: &MailSettings, to: &str, raw: &[u8], patience: Patience) -> Attempt {
    let (Ok(to), Ok(from)) = (to.parse::<Address>(), settings.from_address.parse::<Address>()) else {
        return Attempt::Refused("This is not an e-mail address. Mend it on the customer's page.".to_owned());
    };
    let mut connection = match connect(settings, patience).await {
        Ok(connection) => connection,
        Err(attempt) => return attempt,
    };
    let attempt = match hand_over(&mut connection, from, to, patience).await {
        Err(attempt) => attempt,
        Ok(()) => match timeout(patience.whole, connection.message(raw)).await {
            Ok(Ok(_)) => Attempt::Sent,
            Ok(Err(cause)) if cause.is_permanent() => Attempt::Refused(said(&cause)),
            Ok(Err(cause)) if cause.is_transient() => Attempt::Later(said(&cause)),
            Ok(Err(_)) | Err(_) => Attempt::Unsure(
                "The mail server fell silent after the whole message had gone: it may have arrived.".to_owned(),
            ),
        },
    };
    // a polite goodbye, for which nobody waits
    let _ = timeout(Duration::from_secs(1).min(patience.answer), connection.abort()).await;
    attempt
}

/// Connects, encrypts, and signs in.
async fn connect(settings: &MailSettings, patience: Patience) -> Result<AsyncSmtpConnection, Attempt> {
    let unreachable = || Attempt::Later(format!("{} does not answer.", settings.host));
    let tls = match settings.security {
        Security::None => None,
        Security::Tls | Security::StartTls => Some(tls(settings)?),
    };
    let at_once = tls.clone().filter(|_| settings.security == Security::Tls);
    let port = u16::try_from(settings.port).unwrap_or_default();
    let hello = ClientId::default();
    let reached = AsyncSmtpConnection::connect_tokio1(
        (settings.host.as_str(), port),
        Some(patience.answer),
        &hello,
        at_once,
        None,
    );
    let mut connection = match timeout(patience.answer, reached).await {
        Err(_) => return Err(unreachable()),
        Ok(Err(cause)) => {
            return Err(if is_distrust(&cause) { distrusted(&cause) } else { not_reached(settings, &cause) });
        }
        Ok(Ok(connection)) => connection,
    };
    if let (Security::StartTls, Some(tls)) = (settings.security, tls) {
        if !connection.can_starttls() {
            return Err(Attempt::Stop(
                "The mail server offers no encryption, so nothing was sent. Ask whoever runs it, or choose TLS from the \
                 first byte."
                    .to_owned(),
            ));
        }
        match timeout(patience.answer, connection.starttls(tls, &hello)).await {
            Err(_) => return Err(unreachable()),
            Ok(Err(cause)) if cause.is_transient() => return Err(Attempt::Later(said(&cause))),
            Ok(Err(cause)) => return Err(distrusted(&cause)),
            Ok(Ok(())) => {}
        }
    }
    if settings.user_name.is_empty() {
        return Ok(connection);
    }
    let credentials = Credentials::new(settings.user_name.clone(), settings.password.clone());
    match timeout(patience.answer, connection.auth(&[Mechanism::Plain, Mechanism::Login], &credentials)).await {
        Err(_) => Err(unreachable()),
        Ok(Ok(_)) => Ok(connection),
        Ok(Err(cause)) if cause.is_transient() => Err(Attempt::Later(said(&cause))),
        Ok(Err(cause)) if cause.is_permanent() => {
            Err(Attempt::Stop(format!("The mail server takes neither name nor password. {}", said(&cause))))
        }
        Ok(Err(cause)) if cause.is_client() => {
            Err(Attempt::Stop("The mail server has no way to sign in that we know.".to_owned()))
        }
        Ok(Err(_)) => Err(unreachable()),
    }
}

fn tls(settings: &MailSettings) -> Result<TlsParameters, Attempt> {
    let mut tls = TlsParameters::builder(settings.host.clone());
    if !settings.authority.is_empty() {
        let unreadable = |_| Attempt::Stop("The certificate of your own authority cannot be read.".to_owned());
        tls = tls.add_root_certificate(Certificate::from_pem(settings.authority.as_bytes()).map_err(unreadable)?);
    }
    tls.build().map_err(|cause| distrusted(&cause))
}

/// Says from whom and to whom, up to the word that the message may come.
async fn hand_over(
    connection: &mut AsyncSmtpConnection,
    from: Address,
    to: Address,
    patience: Patience,
) -> Result<(), Attempt> {
    let silent = || Attempt::Later("The mail server does not answer.".to_owned());
    let answered = |answer: Result<Result<_, lettre::transport::smtp::Error>, _>| match answer {
        Ok(Ok(_)) => Ok(()),
        Ok(Err(cause)) if is_about_signing_in(&cause) => {
            Err(Attempt::Stop(format!("The mail server wants a name and a password. {}", said(&cause))))
        }
        Ok(Err(cause)) if cause.is_permanent() && !is_full(&cause) => Err(Attempt::Refused(said(&cause))),
        Ok(Err(cause)) if cause.is_permanent() || cause.is_transient() => Err(Attempt::Later(said(&cause))),
        Ok(Err(_)) | Err(_) => Err(silent()),
    };
    answered(timeout(patience.answer, connection.command(Mail::new(Some(from), Vec::new()))).await)?;
    answered(timeout(patience.answer, connection.command(Rcpt::new(to, Vec::new()))).await)?;
    answered(timeout(patience.answer, connection.command(Data)).await)
}

/// RFC 5321, 4.5.3.1.10: 552 to a recipient means what 452 means.
fn is_full(cause: &lettre::transport::smtp::Error) -> bool {
    code(cause) == Some(552)
}

/// RFC 4954, 6: 530, 534 and 535 are about signing in, not about the message.
fn is_about_signing_in(cause: &lettre::transport::smtp::Error) -> bool {
    matches!(code(cause), Some(530 | 534 | 535))
}

fn code(cause: &lettre::transport::smtp::Error) -> Option<u16> {
    cause.status().map(u16::from)
}

/// Whether the way could not be encrypted with whom was meant: a certificate that is not theirs, or no TLS at all.
fn is_distrust(cause: &lettre::transport::smtp::Error) -> bool {
    let mut source = cause.source();
    while let Some(inner) = source {
        if let Some(io) = inner.downcast_ref::<std::io::Error>() {
            return io.kind() == std::io::ErrorKind::InvalidData;
        }
        source = inner.source();
    }
    cause.is_tls()
}

fn distrusted(cause: &lettre::transport::smtp::Error) -> Attempt {
    Attempt::Stop(format!("The mail server's certificate cannot be trusted, so nothing was sent. {}", said(cause)))
}

fn not_reached(settings: &MailSettings, cause: &lettre::transport::smtp::Error) -> Attempt {
    Attempt::Later(format!("{} cannot be reached. {}", settings.host, said(cause)))
}

/// The server's own words.
fn said(cause: &lettre::transport::smtp::Error) -> String {
    match code(cause) {
        Some(code) => {
            let words = cause.source().map(ToString::to_string).unwrap_or_default();
            format!("The mail server said {code}: {words}").trim_end_matches([':', ' ']).to_owned()
        }
        None => cause.source().map_or_else(String::new, |source| format!("({source})")),
    }
}
