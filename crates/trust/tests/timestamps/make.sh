#!/usr/bin/env bash
# Makes the tokens of this folder anew with OpenSSL 3 alone: authorities of its own, whose private keys are thrown away.
# bash make.sh            The times in the tokens are those of the run, so every file changes.
#
# What is stamped is SHA-256 of the text in `stamped.txt`. Tokens that `openssl ts` refuses to make are put together with
# `openssl cms` around a `TSTInfo` that it made.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
tst_info=1.2.840.113549.1.9.16.1.4

# key NAME rsa|P-256|P-384
key() {
    case "$2" in
        rsa) openssl genpkey -algorithm RSA -pkeyopt rsa_keygen_bits:2048 -out "$1.key" ;;
        *) openssl genpkey -algorithm EC -pkeyopt "ec_paramgen_curve:$2" -out "$1.key" ;;
    esac 2> /dev/null
}
# certificate NAME ISSUER DIGEST EXTENSIONS [FROM UNTIL]: issued by ISSUER; by itself when both are the same.
certificate() {
    local name=$1 issuer=$2 digest=$3 from=${5:-20260101000000Z} until=${6:-20760101000000Z}
    printf '%b' "$4" > extensions
    openssl req -new -key "$name.key" -subj "/O=Example authorities/CN=Example $name" -out request
    : > index.txt
    local by=(-cert "$issuer.pem" -keyfile "$issuer.key")
    [ "$name" != "$issuer" ] || by=(-selfsign -keyfile "$name.key")
    openssl ca -config ca.cnf -batch -notext "${by[@]}" -md "$digest" -in request -startdate "$from" -enddate "$until" \
        -extfile extensions -out "$name.pem" 2> log || { cat log; exit 1; }
}
mkdir -p issued
cat > ca.cnf <<'C'
[ca]
default_ca = here
[here]
database = index.txt
new_certs_dir = issued
rand_serial = yes
policy = any
unique_subject = no
email_in_dn = no
[any]
organizationName = optional
commonName = supplied
C
cat > ts.cnf <<'C'
[tsa]
default_tsa = here
[here]
serial = serial
default_policy = 1.2.3.4.1
digests = sha1, sha256, sha512
accuracy = secs:1
ordering = no
tsa_name = no
ess_cert_id_alg = ${ENV::ESS}
signer_digest = ${ENV::SIGNER_DIGEST}
clock_precision_digits = ${ENV::PRECISION}
C
export ESS=sha256 SIGNER_DIGEST=sha256 PRECISION=0
echo 01 > serial
ca='basicConstraints=critical,CA:TRUE\nkeyUsage=critical,keyCertSign\n'
stamps='basicConstraints=critical,CA:FALSE\nkeyUsage=critical,digitalSignature\nextendedKeyUsage=critical,timeStamping\n'

printf 'name of an invented record' > stamped.txt
printf 'name of another record' > other.txt

# stamp NAME KEYPAIR QUERY [more words for `openssl ts -reply`]
stamp() {
    local name=$1 pair=$2 query=$3; shift 3
    openssl ts -reply -config ts.cnf -queryfile "$query" -signer "$pair.pem" -inkey "$pair.key" "$@" -out "$name.tsr" 2> log \
        || { cat log; exit 1; }
}
# wrap NAME: makes a granted response of the token NAME.token.
wrap() {
    cat > wrap.cnf <<C
asn1 = SEQUENCE:response
[response]
status = SEQUENCE:status
[status]
status = INTEGER:0
C
    openssl asn1parse -genconf wrap.cnf -noout -out head.der
    python3 - "$1" <<'P'
import sys
name = sys.argv[1]
status, token = open("head.der", "rb").read()[2:], open(name + ".token", "rb").read()
body = status + token
open(name + ".tsr", "wb").write(b"\x30\x82" + len(body).to_bytes(2, "big") + body)
P
}
# by_hand NAME [-signer PEM -inkey KEY]…: a token around the TSTInfo of `plain.tsr`.
by_hand() {
    local name=$1; shift
    openssl cms -sign -binary -nodetach -cades -md sha256 -econtent_type $tst_info -in tstinfo.der -outform DER "$@" \
        -out "$name.token"
    wrap "$name"
}

openssl ts -query -data stamped.txt -sha256 -cert -out stamped.tsq 2> log
openssl ts -query -data other.txt -sha256 -cert -no_nonce -out other.tsq 2> log
openssl ts -query -data stamped.txt -sha512 -cert -no_nonce -out sha512.tsq 2> log
openssl ts -query -data stamped.txt -sha256 -cert -tspolicy 1.2.3.4.9 -out policy.tsq 2> log

# Sound ones: RSA under a root; P-256 under a root and an intermediate; P-384 that issued itself; certificate by SHA-1.
key root rsa; certificate root root sha256 "$ca"
key rsa rsa; certificate rsa root sha256 "$stamps"
stamp rsa rsa stamped.tsq
key middle P-256; certificate middle root sha256 "$ca"
key p256 P-256; certificate p256 middle sha256 "$stamps"
stamp p256 p256 stamped.tsq -chain middle.pem
key p384 P-384; certificate p384 p384 sha384 "$stamps"
SIGNER_DIGEST=sha384 PRECISION=3 stamp p384 p384 stamped.tsq
ESS=sha1 stamp version-1 rsa stamped.tsq
key sha512 rsa; certificate sha512 root sha512 "$stamps"
SIGNER_DIGEST=sha512 stamp sha512 sha512 stamped.tsq
# What `openssl cms` makes is sound as well, where it is made of sound parts; and signers can be named by their key.
stamp plain rsa stamped.tsq
openssl ts -reply -in plain.tsr -token_out -out plain.token 2> log
openssl cms -verify -noverify -binary -inform DER -in plain.token -out tstinfo.der 2> log
by_hand by-hand -signer rsa.pem -inkey rsa.key
key named P-256; certificate named root sha256 "${stamps}subjectKeyIdentifier=hash\n"
by_hand by-key -keyid -signer named.pem -inkey named.key

# Of each of these one rule is broken.
stamp other-data rsa other.tsq
stamp other-algorithm rsa sha512.tsq
stamp refused rsa policy.tsq || true
by_hand two-signers -signer rsa.pem -inkey rsa.key -signer p256.pem -inkey p256.key
key other-use rsa; certificate other-use root sha256 "basicConstraints=critical,CA:FALSE\nextendedKeyUsage=critical,codeSigning\n"
by_hand other-use -signer other-use.pem -inkey other-use.key
key two-uses rsa; certificate two-uses root sha256 "extendedKeyUsage=critical,timeStamping,codeSigning\n"
by_hand two-uses -signer two-uses.pem -inkey two-uses.key
key not-critical rsa; certificate not-critical root sha256 "extendedKeyUsage=timeStamping\n"
by_hand not-critical -signer not-critical.pem -inkey not-critical.key
key expired P-256; certificate expired root sha256 "$stamps" 20240101000000Z 20250101000000Z
by_hand expired -signer expired.pem -inkey expired.key
key not-yet P-256; certificate not-yet root sha256 "$stamps" 20700101000000Z 20710101000000Z
by_hand not-yet -signer not-yet.pem -inkey not-yet.key
openssl genpkey -algorithm RSA -pkeyopt rsa_keygen_bits:1024 -out small-rsa.key 2> log
certificate small-rsa root sha256 "$stamps"
by_hand small-rsa -signer small-rsa.pem -inkey small-rsa.key
openssl cms -sign -binary -nodetach -md sha256 -econtent_type $tst_info -in tstinfo.der -outform DER \
    -signer rsa.pem -inkey rsa.key -out no-name.token; wrap no-name
openssl cms -sign -binary -nodetach -cades -nocerts -md sha256 -econtent_type $tst_info -in tstinfo.der -outform DER \
    -signer rsa.pem -inkey rsa.key -out no-certificate.token; wrap no-certificate
openssl cms -sign -binary -nodetach -cades -md sha256 -in tstinfo.der -outform DER \
    -signer rsa.pem -inkey rsa.key -out only-data.token; wrap only-data

# Sound tokens whose chain does not lead to `root.pem`.
key no-ca P-256; certificate no-ca root sha256 "basicConstraints=critical,CA:FALSE\n"
key under-no-ca P-256; certificate under-no-ca no-ca sha256 "$stamps"
stamp under-no-ca under-no-ca stamped.tsq -chain no-ca.pem
key may-not-sign P-256; certificate may-not-sign root sha256 "basicConstraints=critical,CA:TRUE\nkeyUsage=critical,digitalSignature\n"
key under-may-not-sign P-256; certificate under-may-not-sign may-not-sign sha256 "$stamps"
stamp under-may-not-sign under-may-not-sign stamped.tsq -chain may-not-sign.pem
key expired-ca P-256; certificate expired-ca root sha256 "$ca" 20240101000000Z 20250101000000Z
key under-expired-ca P-256; certificate under-expired-ca expired-ca sha256 "$stamps"
stamp under-expired-ca under-expired-ca stamped.tsq -chain expired-ca.pem
key short P-256; certificate short root sha256 "basicConstraints=critical,CA:TRUE,pathlen:0\nkeyUsage=critical,keyCertSign\n"
key below P-256; certificate below short sha256 "$ca"
key under-short P-256; certificate under-short below sha256 "$stamps"
cat short.pem below.pem > chain.pem
stamp under-short under-short stamped.tsq -chain chain.pem
key strange P-256; certificate strange root sha256 "${ca}1.3.6.1.4.1.99999.1=critical,DER:0500\n"
key under-strange P-256; certificate under-strange strange sha256 "$stamps"
stamp under-strange under-strange stamped.tsq -chain strange.pem
issuer=root
: > chain.pem
for number in 1 2 3 4 5 6 7; do
    key "link-$number" P-256; certificate "link-$number" "$issuer" sha256 "$ca"
    cat "link-$number.pem" >> chain.pem
    issuer=link-$number
    [ "$number" -lt 6 ] || {
        key "after-$number" P-256; certificate "after-$number" "$issuer" sha256 "$stamps"
        stamp "after-$number" "after-$number" stamped.tsq -chain chain.pem
    }
done

rm -f "$here"/*.tsr "$here"/*.pem "$here"/*.tsq
cp rsa.tsr p256.tsr p384.tsr version-1.tsr sha512.tsr by-hand.tsr by-key.tsr other-data.tsr other-algorithm.tsr \
    refused.tsr two-signers.tsr other-use.tsr two-uses.tsr not-critical.tsr expired.tsr not-yet.tsr small-rsa.tsr \
    no-name.tsr no-certificate.tsr only-data.tsr under-no-ca.tsr under-may-not-sign.tsr under-expired-ca.tsr \
    under-short.tsr under-strange.tsr after-6.tsr after-7.tsr root.pem p384.pem stamped.tsq stamped.txt "$here"
