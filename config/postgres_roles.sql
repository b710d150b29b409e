-- Makes the roles and the database of Holdfast, once, by whoever owns the cluster:
--   POSTGRES_OWNER_PASSWORD=... POSTGRES_SERVICE_PASSWORD=... psql -f config/postgres_roles.sql
-- The image of PostgreSQL runs it by itself where its folder is empty (compose.yaml).
\set ON_ERROR_STOP on
\getenv owner_password POSTGRES_OWNER_PASSWORD
\getenv service_password POSTGRES_SERVICE_PASSWORD

-- Owns the tables and changes their shape: migrate, put_back, bring_back; nothing of the cluster.
CREATE ROLE holdfast_owner LOGIN PASSWORD :'owner_password'
  NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS;
-- Works with the rows; what it may do with each table it is given by migrate (HOLDFAST_SERVICE_ROLE).
CREATE ROLE holdfast_service LOGIN PASSWORD :'service_password'
  NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS;

CREATE DATABASE holdfast OWNER holdfast_owner;
REVOKE ALL ON DATABASE holdfast FROM PUBLIC;
GRANT CONNECT ON DATABASE holdfast TO holdfast_service;
