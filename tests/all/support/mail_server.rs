//! A mail server that speaks SMTP by a library that is not ours (mailin), over real connections, and behaves as it is told.

use std::io;
use std::net::{IpAddr, Ipv4Addr};
use std::sync::{Arc, Mutex, PoisonError};

use mailin::{Action, Handler, Response, Session, SessionBuilder, response};
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncWrite, AsyncWriteExt, BufReader};
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::{PrivateKeyDer, PrivatePkcs8KeyDer};

/// How the server behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Conduct {
    Accepts,
    /// 550 to the recipient.
    Refuses,
    /// 451 to the recipient.
    Defers,
    /// Closes the connection once the whole message is there, without a word.
    HangsUpAfterData,
    /// Says nothing more once the whole message is there.
    SilentAfterData,
    /// Takes connections and says nothing.
    Hangs,
    /// 535 to any password but the right one.
    WantsPassword,
}

/// A message as it arrived.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Letter {
    pub(crate) from: String,
    pub(crate) to: Vec<String>,
    pub(crate) raw: Vec<u8>,
}

#[derive(Clone)]
pub(crate) struct MailServer {
    pub(crate) port: u16,
    /// Its certificate, where it speaks TLS from the first byte.
    pub(crate) certificate: String,
    conduct: Arc<Mutex<Conduct>>,
    letters: Arc<Mutex<Vec<Letter>>>,
    lines: Arc<Mutex<Vec<String>>>,
    arrived: watch::Sender<usize>,
}

struct Desk {
    conduct: Conduct,
    letter: Letter,
    letters: Arc<Mutex<Vec<Letter>>>,
    arrived: watch::Sender<usize>,
}

impl Handler for Desk {
    fn mail(&mut self, _: IpAddr, _: &str, from: &str) -> Response {
        from.clone_into(&mut self.letter.from);
        response::OK
    }
    fn rcpt(&mut self, to: &str) -> Response {
        match self.conduct {
            Conduct::Refuses => response::NO_MAILBOX,
            Conduct::Defers => response::INTERNAL_ERROR,
            _ => {
                self.letter.to.push(to.to_owned());
                response::OK
            }
        }
    }
    fn data(&mut self, line: &[u8]) -> io::Result<()> {
        self.letter.raw.extend_from_slice(line);
        Ok(())
    }
    fn data_end(&mut self) -> Response {
        self.letters.lock().unwrap_or_else(PoisonError::into_inner).push(self.letter.clone());
        self.arrived.send_modify(|arrived| *arrived += 1);
        response::OK
    }
    fn auth_plain(&mut self, _: &str, name: &str, password: &str) -> Response {
        if (name, password) == ("millrace", "by the weir") { response::AUTH_OK } else { response::INVALID_CREDENTIALS }
    }
}

impl MailServer {
    /// Without TLS.
    pub(crate) async fn open(conduct: Conduct) -> Self {
        Self::open_as(conduct, None).await
    }

    /// With TLS from the first byte, by a certificate of its own for "localhost".
    pub(crate) async fn open_with_tls(conduct: Conduct) -> Self {
        let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
        let key = PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(made.signing_key.serialize_der()));
        let config =
            ServerConfig::builder_with_provider(Arc::new(tokio_rustls::rustls::crypto::ring::default_provider()))
                .with_safe_default_protocol_versions()
                .unwrap()
                .with_no_client_auth()
                .with_single_cert(vec![made.cert.der().clone()], key)
                .unwrap();
        let mut server = Self::open_as(conduct, Some(TlsAcceptor::from(Arc::new(config)))).await;
        server.certificate = made.cert.pem();
        server
    }

    async fn open_as(conduct: Conduct, tls: Option<TlsAcceptor>) -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap();
        let server = Self {
            port: listener.local_addr().unwrap().port(),
            certificate: String::new(),
            conduct: Arc::new(Mutex::new(conduct)),
            letters: Arc::default(),
            lines: Arc::default(),
            arrived: watch::Sender::new(0),
        };
        let serving = server.clone();
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                let (serving, tls) = (serving.clone(), tls.clone());
                tokio::spawn(async move {
                    match tls {
                        None => serving.talk(stream).await,
                        Some(tls) => match tls.accept(stream).await {
                            Ok(stream) => serving.talk(stream).await,
                            Err(_) => Ok(()),
                        },
                    }
                });
            }
        });
        server
    }

    async fn talk(&self, stream: impl AsyncRead + AsyncWrite + Unpin) -> io::Result<()> {
        let conduct = *self.conduct.lock().unwrap_or_else(PoisonError::into_inner);
        let mut stream = BufReader::new(stream);
        if conduct == Conduct::Hangs {
            return std::future::pending().await;
        }
        let letter = Letter { from: String::new(), to: Vec::new(), raw: Vec::new() };
        let desk = Desk { conduct, letter, letters: self.letters.clone(), arrived: self.arrived.clone() };
        let mut builder = SessionBuilder::new("mail.millrace.example");
        // with it the library lets nobody send who has not signed in
        if conduct == Conduct::WantsPassword {
            builder.enable_auth(mailin::AuthMechanism::Plain).insecure_enable_plaintext_auth();
        }
        let mut session: Session<Desk> = builder.build(IpAddr::V4(Ipv4Addr::LOCALHOST), desk);
        stream.write_all(&session.greeting().buffer()?).await?;
        loop {
            let mut line = Vec::new();
            if stream.read_until(b'\n', &mut line).await? == 0 {
                return Ok(());
            }
            let words = String::from_utf8_lossy(&line).trim_end().to_owned();
            self.lines.lock().unwrap_or_else(PoisonError::into_inner).push(words.clone());
            let answer = session.process(&line);
            if words == "." && answer.action != Action::NoReply {
                match conduct {
                    Conduct::HangsUpAfterData => return Ok(()),
                    Conduct::SilentAfterData => return std::future::pending().await,
                    _ => {}
                }
            }
            if answer.action != Action::NoReply {
                stream.write_all(&answer.buffer()?).await?;
                stream.flush().await?;
            }
            if answer.action == Action::Close {
                return Ok(());
            }
        }
    }

    /// From the next connection on it behaves otherwise.
    pub(crate) fn becomes(&self, conduct: Conduct) {
        *self.conduct.lock().unwrap_or_else(PoisonError::into_inner) = conduct;
    }

    /// What arrived whole.
    pub(crate) fn letters(&self) -> Vec<Letter> {
        self.letters.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Every line that was said to it.
    pub(crate) fn lines(&self) -> Vec<String> {
        self.lines.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Waits until so many messages are there.
    pub(crate) async fn has_arrived(&self, many: usize) {
        self.arrived.subscribe().wait_for(|arrived| *arrived >= many).await.unwrap();
    }
}
