# One image for the web server, the workers and the schedule; compose.yaml says which is which.
FROM python:3.12-slim AS built
WORKDIR /holdfast
COPY requirements.txt .
RUN python -m venv /venv && /venv/bin/pip install --no-cache-dir --require-hashes -r requirements.txt

FROM python:3.12-slim
RUN useradd --system --uid 10001 --create-home holdfast \
    && install -d -o holdfast -g holdfast /holdfast /data
COPY --from=built /venv /venv
WORKDIR /holdfast
COPY --chown=holdfast:holdfast . .
USER holdfast
ENV PATH=/venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 \
    HOLDFAST_PRODUCTION=yes HOLDFAST_DATA_DIR=/data HOLDFAST_STATIC_DIR=/holdfast/static
# The key only lets the settings load; the real one comes when the container starts.
RUN HOLDFAST_SECRET_KEY=only-for-collecting-static-files python manage.py collectstatic --no-input
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "-c", "python:config.serving", "config.wsgi"]
